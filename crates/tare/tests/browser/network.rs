//! A bench with a bad network: what was recorded waits, says so, and arrives once.

use super::common::driver::Driver;
use super::common::relay::Relay;
use super::common::server::{Api, STUDY};
use super::{Site, hook, named, wait_saved};
use std::time::Duration;

/// A bench page behind a network that can fail.
fn bench(site: &Site) -> (Relay, Driver, String) {
    let (relay, driver) = (Relay::before(&site.server.url), Driver::start());
    // requests that fail are what this is about
    driver.forgive("net::ERR_");
    let page = format!("{}s/{STUDY}/bench", relay.url);
    driver.goto(&page);
    wait_saved(&driver);
    driver.click(&hook("next-part"));
    (relay, driver, page)
}

fn record(driver: &Driver, name: &str) {
    driver.fill(&hook("part-name"), name);
    driver.click(&hook("save-part"));
}

/// Waits until the page says that so many entries are not saved, and that it has no connection.
#[track_caller]
fn wait_unsaved(driver: &Driver, count: usize) {
    let said = "document.querySelector('[data-test=\"unsaved\"]').textContent";
    driver.wait_until(&format!("{said}.startsWith('{count} not saved yet') && {said}.includes('no connection')"));
}

/// Asserts that each part is there once, made by one entry.
#[track_caller]
fn each_once(site: &Site, names: &[&str]) {
    let mut api: Api = site.server.api();
    let (parts, history) = (api.parts(), api.rows("history"));
    for name in names {
        assert_eq!(named(&parts, name).len(), 1, "{name} in {parts:#?}");
        let entries = history.iter().filter(|row| row["says"].as_str().is_some_and(|says| says.ends_with(name))).count();
        assert_eq!(entries, 1, "entries of {name} in {history:#?}");
    }
}

#[test]
fn what_is_recorded_without_connection_waits_and_is_sent_once() {
    let site = Site::new();
    let (relay, driver, _) = bench(&site);
    record(&driver, "Before the cut");
    wait_saved(&driver);
    relay.cut();
    record(&driver, "First without");
    record(&driver, "Second without");
    wait_unsaved(&driver, 2);
    driver.click(&hook("unsaved"));
    let queue = driver.text(&hook("queue"));
    assert!(queue.contains("First without") && queue.contains("Second without"), "the page says what is not saved: {queue}");
    assert_eq!(site.server.api().parts().len(), 2, "nothing came through");

    relay.mend();
    wait_saved(&driver);
    each_once(&site, &["Before the cut", "First without", "Second without"]);
}

#[test]
fn an_answer_that_gets_lost_does_not_record_twice() {
    let site = Site::new();
    let (relay, driver, _) = bench(&site);
    relay.lose_answers();
    record(&driver, "Heard by the server alone");
    wait_unsaved(&driver, 1);
    // the point of the test: the server has it, and the page cannot know
    let heard = || named(&site.server.api().parts(), "Heard by the server alone").len() == 1;
    assert!(
        (0..400).any(|_| heard() || {
            std::thread::sleep(Duration::from_millis(100));
            false
        }),
        "it came through"
    );
    assert!(relay.lost() > 0);
    wait_unsaved(&driver, 1);
    relay.mend();
    wait_saved(&driver);
    each_once(&site, &["Heard by the server alone"]);
}

#[test]
fn what_waits_survives_the_page() {
    let site = Site::new();
    let (relay, driver, page) = bench(&site);
    relay.cut();
    record(&driver, "Kept by the browser");
    wait_unsaved(&driver, 1);
    driver.goto("about:blank");
    relay.mend();
    driver.goto(&page);
    wait_saved(&driver);
    each_once(&site, &["Kept by the browser"]);
}

#[test]
fn every_page_says_that_its_connection_is_lost() {
    let (site, driver) = (Site::new(), Driver::start());
    let relay = Relay::before(&site.server.url);
    driver.forgive("net::ERR_");
    driver.goto(&format!("{}s/{STUDY}/parts", relay.url));
    driver.wait_for("#live");
    relay.cut();
    driver.wait_until("document.querySelector('#live').textContent.includes('connection lost')");
    relay.mend();
    driver.wait_until("!document.querySelector('#live').textContent.includes('connection lost')");
}
