//! The parts grid with ten thousand parts: opened, scrolled to its end, filtered, edited, taken back.

use super::common::driver::Driver;
use super::common::server::large;
use super::{Site, TARE, entries, hook, named};
use serde_json::json;
use std::path::Path;

const PARTS: usize = 10_000;

/// The selector of a cell in a row that is drawn, by its place among the rows shown (the first is 0).
pub(super) fn cell(place: usize, column: &str) -> String {
    format!("tr[aria-rowindex=\"{}\"] {}[data-col=\"{column}\"]", place + 2, hook("cell"))
}

/// The script of a cell's value, without the word of evidence that may stand before it.
fn value_of(place: usize, column: &str) -> String {
    format!("document.querySelector('{}')?.lastChild.textContent", cell(place, column))
}

/// Waits until a cell's value is exactly this text.
#[track_caller]
pub(super) fn wait_value(driver: &Driver, place: usize, column: &str, text: &str) {
    driver.wait_until(&format!("{} === {}", value_of(place, column), json!(text)));
}

/// Waits until the line below the grid holds these words.
#[track_caller]
pub(super) fn wait_status(driver: &Driver, words: &str) {
    driver.wait_until(&format!("document.querySelector('[data-test=\"numbers\"]')?.innerText.includes('{words}')"));
}

/// Pastes a text where the focus is, as the clipboard would.
pub(super) fn paste(driver: &Driver, text: &str) {
    driver.js(
        "const data = new DataTransfer(); data.setData('text/plain', arguments[0]);
         document.activeElement.dispatchEvent(new ClipboardEvent('paste', {clipboardData: data, bubbles: true, cancelable: true}))",
        &[json!(text)],
    );
}

#[test]
fn ten_thousand_parts_are_at_hand() {
    let site = Site::made(|workspace| large(Path::new(TARE), workspace, PARTS));
    let driver = Driver::start();
    driver.goto(&site.page("parts"));
    // the product itself stands above the list; thousands are parted by a thin space
    wait_status(&driver, "10\\u202f001 rows");
    let drawn = driver.js("return document.querySelectorAll('tbody tr').length", &[]);
    assert!(drawn.as_u64().is_some_and(|rows| (10..300).contains(&rows)), "only what is seen is drawn, not {drawn} rows");

    driver.click(&cell(0, "name"));
    driver.keys("Control+End");
    driver.wait_for(&cell(PARTS, "name"));
    assert_eq!(driver.text(&cell(PARTS, "name")), format!("Part {}", PARTS - 1));

    driver.fill(&hook("filter"), "name = Part 9998");
    wait_status(&driver, "of 10\\u202f001 rows");
    driver.wait_until("[...document.querySelectorAll('[data-col=name]')].some(c => c.innerText === 'Part 9998')");
    let first = driver.text(&cell(0, "name"));
    assert!(first.contains("Part 99") || first.contains("Part 9998"), "{first}");
    let place = (0..3).find(|place| driver.text(&cell(*place, "name")) == "Part 9998").expect("the part is shown");

    let before = stated(&site);
    driver.click(&cell(place, "stated"));
    driver.keys("Enter");
    driver.fill(&hook("editor"), "77.5 g");
    driver.keys("Enter");
    wait_value(&driver, place, "stated", "77.5 g");
    driver.wait_until("/^entry \\d+/.test(document.querySelector('[data-test=\"message\"]').innerText)");
    assert_eq!(stated(&site), "77.5 g");

    driver.click(&hook("undo"));
    wait_value(&driver, place, "stated", &before);
    assert_eq!(stated(&site), before);
}

fn stated(site: &Site) -> String {
    let parts = site.server.api().parts();
    let part = named(&parts, "Part 9998");
    assert_eq!(part.len(), 1);
    part[0]["stated_mass"]["text"].as_str().expect("a mass").to_owned()
}

#[test]
fn a_number_without_unit_asks_and_a_wrong_text_stays() {
    let (site, driver) = (Site::new(), Driver::start());
    let part = site.server.api().add_part("Lid", "1 g");
    driver.goto(&site.page("parts"));
    wait_status(&driver, "2 rows");
    driver.click(&cell(1, "stated"));
    driver.keys("F2");
    driver.fill(&hook("editor"), "250");
    driver.keys("Enter");
    driver.click(&format!("{}[data-unit=\"g\"]", hook("unit")));
    wait_value(&driver, 1, "stated", "250 g");

    driver.forgive("status of 422");
    driver.click(&cell(1, "stated"));
    driver.keys("F2");
    driver.fill(&hook("editor"), "heavy");
    driver.keys("Enter");
    driver.wait_for(&hook("panel-message"));
    assert_eq!(driver.value(&hook("editor")), "heavy", "what was typed stays");
    let parts = site.server.api().parts();
    let stands = parts.iter().find(|row| row["id"] == *part).expect("the part");
    assert_eq!(stands["stated_mass"]["text"], "250 g", "nothing was recorded");
}

#[test]
fn a_mass_says_beside_it_what_it_rests_on() {
    let (site, driver) = (Site::new(), Driver::start());
    site.server.api().add_part("Lid", "1 g");
    driver.goto(&site.page("parts"));
    wait_status(&driver, "2 rows");
    for (typed, evidence, note) in [("250 g", "assumed", "assumed"), ("251 g measured", "measured", "")] {
        driver.click(&cell(1, "stated"));
        driver.keys("F2");
        driver.fill(&hook("editor"), typed);
        driver.keys("Enter");
        let (mass, _) = typed.split_at("250 g".len());
        wait_value(&driver, 1, "stated", mass);
        // a measured mass stands plain; every other one says what it is
        driver.wait_until(&format!(
            "document.querySelector('{}').firstChild.textContent === '{note}' && /^entry /.test(document.querySelector('{}').innerText)",
            cell(1, "stated"),
            hook("message")
        ));
        let parts = site.server.api().parts();
        let stated = &named(&parts, "Lid")[0]["stated_mass"];
        assert_eq!((&stated["text"], &stated["evidence"]), (&json!(mass), &json!(evidence)), "{stated}");
    }
}

#[test]
fn a_block_is_pasted_as_one_entry_and_only_when_it_reads() {
    let (site, driver) = (Site::new(), Driver::start());
    let mut api = site.server.api();
    for name in ["Lid", "Seal"] {
        api.add_part(name, "100 g");
    }
    driver.goto(&site.page("parts"));
    wait_status(&driver, "3 rows");
    let before = entries(&mut api).len();
    driver.click(&cell(1, "stated"));
    paste(&driver, "200 g\nheavy");
    driver.wait_for(&hook("panel-paste"));
    driver.forgive("status of 422");
    driver.click(&hook("paste-record"));
    driver.wait_until(&format!("document.querySelector('{}')?.innerText.includes('heavy')", hook("paste-problems")));
    assert_eq!(entries(&mut api).len(), before, "all or nothing");

    driver.fill(&hook("paste-text"), "200 g\n300 g");
    driver.click(&hook("paste-record"));
    wait_value(&driver, 1, "stated", "200 g");
    wait_value(&driver, 2, "stated", "300 g");
    let parts = api.parts();
    for (name, mass) in [("Lid", "200 g"), ("Seal", "300 g")] {
        assert_eq!(named(&parts, name)[0]["stated_mass"]["text"], mass);
    }
    assert_eq!(entries(&mut api).len(), before + 1, "one entry");
}
