//! Entries taken back and brought back on the history page.

use super::common::driver::Driver;
use super::common::server::Api;
use super::{Site, entries, named};
use serde_json::{Value, json};

/// The mass of the lid as it is written, and the entries.
fn state(api: &mut Api) -> (String, Vec<Value>) {
    let parts = api.parts();
    let mass = named(&parts, "Lid")[0]["stated_mass"]["text"].as_str().unwrap_or_default().to_owned();
    (mass, entries(api))
}

/// Records another mass; gives the number of the entry.
fn weigh(api: &mut Api, part: &str, mass: &str) -> u64 {
    let made = api.record(&format!("lid is {mass}"), &json!([{"set": {"target": format!("@{part}/mass"), "to": mass}}]));
    made["number"].as_u64().expect("a number")
}

/// The selector of an entry's button.
fn button(what: &str, number: u64) -> String {
    format!("button[data-post=\"{what}\"][data-number=\"{number}\"]")
}

#[test]
fn an_entry_is_taken_back_and_brought_back() {
    let (site, driver) = (Site::new(), Driver::start());
    let mut api = site.server.api();
    let part = api.add_part("Lid", "100 g");
    let number = weigh(&mut api, &part, "120 g");
    let (_, before) = state(&mut api);

    driver.goto(&site.page("history"));
    driver.click(&button("undo", number));
    driver.wait_for(&button("redo", number));
    let (mass, rows) = state(&mut api);
    assert_eq!(mass, "100 g");
    // taking back adds an entry that says so; nothing is struck out
    assert_eq!(rows.len(), before.len() + 1, "{rows:#?}");
    assert_eq!(rows.last().expect("an entry")["undoes"], number);
    assert!(driver.text("tr.undone").contains("lid is 120 g"));
    driver.accessible();

    driver.click(&button("redo", number));
    driver.wait_for(&button("undo", number));
    assert_eq!(state(&mut api).0, "120 g");
}

#[test]
fn an_entry_written_over_since_is_not_taken_back_and_shows_both_values() {
    let (site, driver) = (Site::new(), Driver::start());
    let mut api = site.server.api();
    let part = api.add_part("Lid", "100 g");
    let number = weigh(&mut api, &part, "120 g");
    weigh(&mut api, &part, "130 g");
    let (_, before) = state(&mut api);

    driver.forgive("status of 409");
    driver.goto(&site.page("history"));
    driver.click(&button("undo", number));
    let said = driver.text("[role=alert]");
    assert!(said.contains("120 g") && said.contains("130 g"), "both values: {said}");
    let (mass, after) = state(&mut api);
    assert_eq!((mass.as_str(), after.len()), ("130 g", before.len()), "nothing was recorded");
}
