//! Holds: recorded by a named person only, on their page and at the bench.

use super::common::driver::Driver;
use super::common::server::Api;
use super::{Site, entries, hook, wait_saved};
use serde_json::{Value, json};

const NAME: &str = "Absence of voltage at the terminals";
const WHO: &str = "Ana Petrova, electrician";

/// A study with one open hold.
fn held() -> (Site, Api) {
    let site = Site::new();
    let mut api = site.server.api();
    api.record("a hold", &json!([{"add": {"kind": "hold", "under": null, "fields": {"name": NAME, "state": "open"}}}]));
    (site, api)
}

/// The fields of the only hold.
fn hold(api: &mut Api) -> Value {
    let rows = api.rows("list?kind=hold");
    assert_eq!(rows.len(), 1, "{rows:#?}");
    rows[0]["fields"].clone()
}

/// Asserts that nobody recorded the hold, and that the attempt left no entry.
#[track_caller]
fn still_open(api: &mut Api, before: usize) {
    let fields = hold(api);
    assert!(fields["state"] == "open" && fields["who"].as_str().unwrap_or_default().is_empty(), "{fields}");
    assert_eq!(entries(api).len(), before, "an attempt without a name is no entry");
}

/// Asserts that the hold is recorded by the person, with a time.
#[track_caller]
fn recorded(api: &mut Api) {
    let fields = hold(api);
    assert_eq!((&fields["state"], &fields["who"]), (&json!("recorded"), &json!(WHO)), "{fields}");
    assert!(fields["when"].as_str().is_some_and(|when| when.starts_with("20")), "{fields}");
}

#[test]
fn a_named_person_records_a_hold_on_its_page() {
    let ((site, mut api), driver) = (held(), Driver::start());
    let before = entries(&mut api).len();
    driver.goto(&site.page("holds"));
    driver.click(&hook("hold-record"));
    // the browser itself asks for the name
    let missing = driver.js("return document.querySelector(arguments[0]).validity.valueMissing", &[json!(hook("hold-name"))]);
    assert_eq!(missing, true);
    still_open(&mut api, before);

    // blanks are no name; here the server is the one to say so
    driver.forgive("status of 422");
    driver.type_text(&hook("hold-name"), "   ");
    driver.click(&hook("hold-record"));
    let said = driver.text("[role=alert]");
    assert!(said.contains("a named person records it"), "{said}");
    still_open(&mut api, before);

    driver.fill(&hook("hold-name"), WHO);
    driver.click(&hook("hold-record"));
    driver.wait_until(&format!("document.querySelector('{}') === null", hook("hold-record")));
    recorded(&mut api);
    let page = driver.text("main");
    assert!(page.contains(NAME) && page.contains(WHO), "{page}");
}

#[test]
fn a_named_person_records_a_hold_at_the_bench() {
    let ((site, mut api), driver) = (held(), Driver::start());
    let before = entries(&mut api).len();
    driver.set_size(820, 1180);
    driver.goto(&site.page("bench#holds"));
    wait_saved(&driver);
    driver.click(&format!("{} summary", hook("hold-open")));
    for name in ["", "   "] {
        driver.fill(&hook("hold-name"), name);
        driver.click(&hook("hold-record"));
        let said = driver.text(&format!("{} [role=alert]", hook("hold-open")));
        assert!(said.contains("type the name"), "{said}");
        wait_saved(&driver);
        still_open(&mut api, before);
    }
    driver.accessible();

    driver.fill(&hook("hold-name"), WHO);
    driver.type_text(&hook("hold-note"), "0 V between all poles");
    driver.click(&hook("hold-record"));
    driver.wait_until(&format!("document.querySelector('{}') === null", hook("hold-open")));
    wait_saved(&driver);
    recorded(&mut api);
    let (fields, page) = (hold(&mut api), driver.text("main"));
    assert!(fields["says"].as_str().is_some_and(|says| says.contains("0 V between all poles")), "{fields}");
    assert!(page.contains(NAME) && page.contains(WHO), "{page}");
}
