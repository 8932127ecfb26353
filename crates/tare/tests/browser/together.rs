//! Two people with a browser each at one study.

use super::common::driver::Driver;
use super::common::server::STUDY;
use super::grid::{cell, wait_status, wait_value};
use super::{Site, entries, hook, named};

/// Two grids of a study with one part below the product, each marked so that a page loaded anew would be noticed.
fn two(site: &Site) -> [Driver; 2] {
    site.server.api().add_part("Lid", "100 g");
    [Driver::start(), Driver::start()].map(|driver| {
        driver.goto(&site.page("parts"));
        wait_status(&driver, "2 rows");
        driver.js("window.mark = 1", &[]);
        driver
    })
}

#[track_caller]
fn not_loaded_anew(driver: &Driver) {
    assert_eq!(driver.js("return window.mark", &[]), 1, "the page was loaded anew");
}

fn begin(driver: &Driver, column: &str, text: &str) {
    driver.click(&cell(1, column));
    driver.keys("F2");
    driver.fill(&hook("editor"), text);
}

#[test]
fn an_edit_appears_in_the_other_browser() {
    let site = Site::new();
    let [one, other] = two(&site);
    begin(&one, "name", "Lid, pressed");
    one.keys("Enter");
    wait_value(&other, 1, "name", "Lid, pressed");
    begin(&other, "stated", "95 g");
    other.keys("Enter");
    wait_value(&one, 1, "stated", "95 g");
    // a part added elsewhere comes by itself as well
    site.server.api().add_part("Seal", "3 g");
    for driver in [&one, &other] {
        wait_status(driver, "3 rows");
        wait_value(driver, 2, "name", "Seal");
        not_loaded_anew(driver);
    }
}

#[test]
fn an_edit_elsewhere_does_not_disturb_what_is_being_typed() {
    let site = Site::new();
    let [one, other] = two(&site);
    begin(&one, "name", "Half a na");
    begin(&other, "stated", "95 g");
    other.keys("Enter");
    wait_value(&one, 1, "stated", "95 g");
    assert_eq!(one.value(&hook("editor")), "Half a na");
    one.type_here("me");
    one.keys("Enter");
    wait_value(&other, 1, "name", "Half a name");
}

/// One writes 111 g while the other records 222 g; the first is asked, and nothing of it is recorded before the answer.
fn both_write(site: &Site, one: &Driver, other: &Driver, heard_first: bool) {
    begin(one, "stated", "111 g");
    begin(other, "stated", "222 g");
    other.keys("Enter");
    other.wait_until(&format!("/^entry /.test(document.querySelector('{}').innerText)", hook("message")));
    if !heard_first {
        one.keys("Enter");
    }
    one.wait_for(&hook("panel-conflict"));
    let asked = one.text(&hook("panel-conflict"));
    assert!(asked.contains("111 g") && asked.contains("222 g"), "both values: {asked}");
    assert_eq!(one.value(&hook("editor")), "111 g", "what was typed stays");
    assert_eq!(mass(site), "222 g", "nothing is written over before somebody says so");
}

#[test]
fn the_same_field_shows_both_values_and_asks() {
    let site = Site::new();
    let [one, other] = two(&site);
    both_write(&site, &one, &other, true);
    one.click(&hook("take-mine"));
    wait_value(&other, 1, "stated", "111 g");
    assert_eq!(mass(&site), "111 g");
    // what was written over is not lost: both edits are entries, which can be taken back
    assert_eq!(edits_of_mass(&site), 2);
}

#[test]
fn keeping_theirs_records_nothing() {
    let site = Site::new();
    let [one, other] = two(&site);
    both_write(&site, &one, &other, true);
    one.click(&hook("take-theirs"));
    wait_value(&one, 1, "stated", "222 g");
    assert_eq!(edits_of_mass(&site), 1, "theirs alone");
}

/// A grid that hears nothing of what others do, so that only the server's answer can tell of a conflict.
fn deaf(site: &Site) -> Driver {
    let driver = Driver::start();
    driver.forgive("net::ERR_BLOCKED_BY_CLIENT");
    driver.forgive("status of 409");
    driver.block(&format!("*/api/studies/{STUDY}/live*"));
    driver.goto(&site.page("parts"));
    wait_status(&driver, "2 rows");
    driver
}

#[test]
fn the_server_refuses_an_edit_of_what_was_changed_unheard() {
    let site = Site::new();
    let [_, other] = two(&site);
    let one = deaf(&site);
    both_write(&site, &one, &other, false);
    one.click(&hook("take-mine"));
    wait_value(&other, 1, "stated", "111 g");
    assert_eq!((mass(&site).as_str(), edits_of_mass(&site)), ("111 g", 2));
}

#[test]
fn keeping_theirs_shows_theirs_though_it_was_unheard() {
    let site = Site::new();
    let [_, other] = two(&site);
    let one = deaf(&site);
    both_write(&site, &one, &other, false);
    one.click(&hook("take-theirs"));
    wait_value(&one, 1, "stated", "222 g");
    assert_eq!((mass(&site).as_str(), edits_of_mass(&site)), ("222 g", 1));
}

/// The mass that stands.
fn mass(site: &Site) -> String {
    let parts = site.server.api().parts();
    named(&parts, "Lid")[0]["stated_mass"]["text"].as_str().expect("a mass").to_owned()
}

/// How many entries wrote a mass.
fn edits_of_mass(site: &Site) -> usize {
    entries(&mut site.server.api()).iter().filter(|row| row["says"].as_str().is_some_and(|says| says.contains("mass"))).count()
}
