//! Two people with a browser each at one study.

use super::common::driver::Driver;
use super::grid::{cell, wait_status};
use super::{Site, hook, named};

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

fn shows(column: &str, text: &str) -> String {
    format!("document.querySelector('{}').innerText === '{text}'", cell(1, column))
}

#[test]
fn an_edit_appears_in_the_other_browser() {
    let site = Site::new();
    let [one, other] = two(&site);
    begin(&one, "name", "Lid, pressed");
    one.keys("Enter");
    other.wait_until(&shows("name", "Lid, pressed"));
    begin(&other, "stated", "95 g");
    other.keys("Enter");
    one.wait_until(&shows("stated", "95 g"));
    // a part added elsewhere comes by itself as well
    site.server.api().add_part("Seal", "3 g");
    for driver in [&one, &other] {
        wait_status(driver, "3 rows");
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
    one.wait_until(&shows("stated", "95 g"));
    assert_eq!(one.value(&hook("editor")), "Half a na");
    one.type_here("me");
    one.keys("Enter");
    other.wait_until(&shows("name", "Half a name"));
}

#[test]
fn the_same_field_shows_both_values_and_asks() {
    let site = Site::new();
    let [one, other] = two(&site);
    one.forgive("status of 409");
    begin(&one, "stated", "111 g");
    begin(&other, "stated", "222 g");
    other.keys("Enter");
    other.wait_until(&shows("stated", "222 g"));
    one.wait_for("body");
    if one.js("return document.querySelector('[data-test=\"panel-conflict\"]') === null", &[]) == true {
        // news may come before or after the key; either way both values are shown before anything is recorded
        one.keys("Enter");
    }
    one.wait_for(&hook("panel-conflict"));
    let asked = one.text(&hook("panel-conflict"));
    assert!(asked.contains("111 g") && asked.contains("222 g"), "both values: {asked}");
    assert_eq!(mass(&site), "222 g", "nothing is written over before somebody says so");

    one.click(&hook("take-mine"));
    other.wait_until(&shows("stated", "111 g"));
    assert_eq!(mass(&site), "111 g");
    // what was written over is not lost: both edits are entries, which can be taken back
    assert_eq!(edits_of_mass(&site), 2);
}

#[test]
fn keeping_theirs_records_nothing() {
    let site = Site::new();
    let [one, other] = two(&site);
    one.forgive("status of 409");
    begin(&one, "stated", "111 g");
    begin(&other, "stated", "222 g");
    other.keys("Enter");
    other.wait_until(&shows("stated", "222 g"));
    if one.js("return document.querySelector('[data-test=\"panel-conflict\"]') === null", &[]) == true {
        one.keys("Enter");
    }
    one.click(&hook("take-theirs"));
    one.wait_until(&shows("stated", "222 g"));
    assert_eq!(edits_of_mass(&site), 1, "theirs alone");
}

/// The mass that stands.
fn mass(site: &Site) -> String {
    let parts = site.server.api().parts();
    named(&parts, "Lid")[0]["stated_mass"]["text"].as_str().expect("a mass").to_owned()
}

/// Entries that wrote a mass; the program adds entries of its own that hold on to texts of the library.
fn edits_of_mass(site: &Site) -> usize {
    let history = site.server.api().rows("history");
    history.iter().filter(|row| row["says"].as_str().is_some_and(|says| says.contains("mass"))).count()
}
