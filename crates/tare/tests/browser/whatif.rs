//! The what-if page: another value beside what stands, and nothing recorded.

use super::common::driver::Driver;
use super::common::server::Api;
use super::{Site, entries, hook};
use serde_json::{Value, json};

/// What must be as it was afterwards: parts and entries.
fn state(api: &mut Api) -> (Vec<Value>, Vec<Value>) {
    (api.parts(), entries(api))
}

#[test]
fn another_mass_is_shown_beside_what_stands_and_not_recorded() {
    let (site, driver) = (Site::new(), Driver::start());
    let mut api = site.server.api();
    let part = api.add_part("Lid", "100 g");
    let before = state(&mut api);

    driver.goto(&site.page("whatif"));
    driver.type_text(&hook("whatif-target"), &format!("@{part}/mass"));
    driver.type_text(&hook("whatif-to"), "150 g");
    driver.click(&hook("whatif-go"));
    driver.wait_for(&hook("whatif-row"));
    let rows = driver.js(
        "return [...document.querySelectorAll(arguments[0])].map(r => [...r.cells].map(c => c.firstChild.textContent))",
        &[json!(hook("whatif-row"))],
    );
    assert_eq!(rows, json!([["mass", "0.1 kg", "0.15 kg", "+0.05 kg"]]));
    assert!(driver.text(&hook("message")).contains("nothing was recorded"));
    assert_eq!(state(&mut api), before, "the study is as it was");
    driver.accessible();
    driver.overflow(390);
}

#[test]
fn what_cannot_be_worked_out_is_said_and_stays_in_its_field() {
    let (site, driver) = (Site::new(), Driver::start());
    let mut api = site.server.api();
    api.add_part("Lid", "100 g");
    let before = state(&mut api);

    driver.goto(&site.page("whatif"));
    driver.type_text(&hook("whatif-target"), "P999/mass");
    driver.click(&hook("whatif-go"));
    driver.wait_until("document.querySelector('[data-test=\"whatif-to\"]').getAttribute('aria-invalid') === 'true'");
    driver.forgive("status of 422");
    driver.forgive("status of 404");
    driver.type_text(&hook("whatif-to"), "150 g");
    driver.click(&hook("whatif-go"));
    driver.wait_until(&format!("document.querySelector('{}').innerText.includes('P999')", hook("problems")));
    assert_eq!(driver.value(&hook("whatif-target")), "P999/mass");
    assert_eq!(driver.js("return document.querySelectorAll(arguments[0]).length", &[json!(hook("whatif-row"))]), 0);
    assert_eq!(state(&mut api), before, "the study is as it was");
}
