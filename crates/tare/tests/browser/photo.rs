//! A photo handed over, shown, and marked with call-outs.

use super::common::driver::Driver;
use super::common::server::Api;
use super::{Site, hook};
use serde_json::{Value, json};

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
    for (number, x, y, words) in [(1, 0.31, 0.52, "drain plug"), (2, 0.70, 0.22, "clip")] {
        stands(&driver, number, x, y);
        assert_eq!(driver.value(&format!("{} {}", line(number), hook("words"))), words);
    }
    // the second one names the part it is on
    driver.wait_until(&format!("document.querySelector('{} {}').value.includes('Housing')", line(2), hook("part")));
    driver.accessible();
    driver.overflow(390);
}

/// The selector of a call-out's line beside the picture.
fn line(number: u32) -> String {
    format!("{}[data-number=\"{number}\"]", hook("callout"))
}

/// Asserts that a mark is drawn at these shares of the picture, within three hundredths.
#[track_caller]
fn stands(driver: &Driver, number: u32, x: f64, y: f64) {
    let mark = format!("{}[data-number=\"{number}\"]", hook("mark"));
    driver.wait_for(&mark);
    let at = driver.js(
        "const i = document.querySelector('#photo img').getBoundingClientRect();
         const m = document.querySelector(arguments[0]).getBoundingClientRect();
         return [(m.left + m.width / 2 - i.left) / i.width, (m.top + m.height / 2 - i.top) / i.height]",
        &[json!(mark)],
    );
    let near = |found: &Value, wanted: f64| found.as_f64().is_some_and(|found| (found - wanted).abs() < 0.03);
    assert!(near(&at[0], x) && near(&at[1], y), "call-out {number} stands at {at}, not at {x} {y}");
}

#[test]
fn a_call_out_is_placed_by_pointing_and_recorded_with_its_words() {
    let (site, driver) = (Site::new(), Driver::start());
    let mut api = site.server.api();
    driver.goto(&site.page("photos"));
    let picture = site.picture(&driver, "bay.png");
    driver.upload(&hook("photo-file"), &picture);
    driver.wait_until("[...document.images].some(i => i.src.includes('/photos/') && i.naturalWidth > 0)");
    let id = api.rows("list?kind=photo")[0]["id"].as_str().expect("an id").to_owned();
    let written =
        |api: &mut Api| api.get(&format!("record?of=@{id}"))["fields"]["callouts"].as_str().unwrap_or_default().to_owned();

    driver.goto(&site.page(&format!("photo?of=@{id}")));
    driver.wait_until("document.querySelector('#photo img')?.naturalWidth > 0");
    // the protocol clicks in the middle
    driver.click("#photo img");
    stands(&driver, 1, 0.5, 0.5);
    assert_eq!(written(&mut api), "", "nothing is recorded before there are words");
    driver.type_here("drain plug");
    driver.keys("Enter");
    driver.wait_until(&format!("/^entry /.test(document.querySelector('{}').innerText)", hook("message")));
    let text = written(&mut api);
    assert!(text.starts_with("1 at 0.5") && text.ends_with("drain plug"), "{text}");

    driver.click(&hook("undo"));
    driver.wait_until(&format!("document.querySelector('{}') === null", hook("mark")));
    assert_eq!(written(&mut api), "", "taken back");
}
