//! A photo handed over, shown, and marked with call-outs.

use super::common::driver::Driver;
use super::{Site, hook};
use serde_json::json;

#[test]
fn a_photo_is_shown_with_its_call_outs() {
    let (site, driver) = (Site::new(), Driver::start());
    let mut api = site.server.api();
    let part = api.add_part("Housing", "2 kg");
    driver.goto(&site.page(&format!("part?of=@{part}")));
    let picture = site.picture(&driver, "housing.png");
    driver.upload(&hook("photo-file"), &picture);
    driver.wait_until("[...document.images].some(i => i.src.includes('/photos/') && i.naturalWidth > 0)");

    let photos = api.rows("list?kind=photo");
    assert_eq!(photos.len(), 1, "{photos:#?}");
    assert_eq!(photos[0]["refs"]["parts"], json!([part]));
    let id = photos[0]["id"].as_str().expect("an id").to_owned();
    let to = format!("1 at 0.31 0.52 drain plug; 2 at 0.70 0.22 clip on @{part}");
    api.record("call-outs", &json!([{"set": {"target": format!("@{id}/callouts"), "to": to}}]));

    driver.goto(&site.page(&format!("photo?of=@{id}")));
    driver.wait_until("document.querySelector('#photo img')?.naturalWidth > 0");
    driver.wait_until("document.body.innerText.includes('drain plug')");
    for (number, x, y) in [(1, 0.31, 0.52), (2, 0.70, 0.22)] {
        let mark = format!("[data-callout=\"{number}\"]");
        driver.wait_for(&mark);
        let at = driver.js(
            "const i = document.querySelector('#photo img').getBoundingClientRect();
             const m = document.querySelector(arguments[0]).getBoundingClientRect();
             return [(m.left + m.width / 2 - i.left) / i.width, (m.top + m.height / 2 - i.top) / i.height]",
            &[json!(mark)],
        );
        let near = |found: &serde_json::Value, wanted: f64| found.as_f64().is_some_and(|found| (found - wanted).abs() < 0.03);
        assert!(near(&at[0], x) && near(&at[1], y), "call-out {number} stands at {at}, not at {x} {y}");
    }
    driver.accessible();
    driver.overflow(390);
}
