//! A strip-down from an empty study to its report, by the hands of one person at the bench page.

use super::common::driver::Driver;
use super::{Site, hook, named, wait_saved};
use serde_json::json;

/// What may be needed for one part with name, count, mass and photo: fields filled, buttons pressed, pictures taken.
const MOST_INTERACTIONS: u32 = 6;

#[test]
fn a_strip_down_goes_from_an_empty_study_to_its_report() {
    let (site, driver) = (Site::new(), Driver::start());
    driver.set_size(820, 1180);
    driver.goto(&site.page("bench"));
    driver.wait_for(&hook("next-part"));
    let picture = site.picture(&driver, "lid.png");

    let before = driver.interactions();
    driver.click(&hook("next-part"));
    driver.type_text(&hook("part-name"), "Lid, pressed");
    driver.fill(&hook("part-count"), "2");
    driver.type_text(&hook("part-mass"), "412");
    driver.upload(&hook("part-photo"), &picture);
    driver.click(&hook("save-part"));
    let needed = driver.interactions() - before;
    assert!(needed <= MOST_INTERACTIONS, "{needed} interactions for one part");

    // the next ones by keys alone: the form stays open with the focus in the name
    for (name, count, mass) in [("Bracket \"left\"", "1", "1220.5"), ("Screw M6 × 20", "14", "7.4")] {
        driver.wait_until("document.activeElement.dataset.test === 'part-name' && document.activeElement.value === ''");
        let before = driver.interactions();
        driver.type_here(name);
        driver.keys("Enter");
        driver.type_here(count);
        driver.keys("Enter");
        driver.type_here(mass);
        driver.click(&hook("save-part"));
        assert!(driver.interactions() - before <= MOST_INTERACTIONS, "no more by keys");
    }
    wait_saved(&driver);

    let parts = site.server.api().parts();
    for (name, count, mass, photos) in
        [("Lid, pressed", 2.0, "412 g", 1), ("Bracket \"left\"", 1.0, "1220.5 g", 0), ("Screw M6 × 20", 14.0, "7.4 g", 0)]
    {
        let found = named(&parts, name);
        assert_eq!(found.len(), 1, "one {name} in {parts:#?}");
        assert_eq!(found[0]["count"].as_f64(), Some(count), "{}", found[0]);
        assert_eq!(found[0]["stated_mass"]["text"], mass, "{}", found[0]);
        assert_eq!(found[0]["photos"], photos, "{}", found[0]);
    }

    // the bench keeps its lines for itself: the list of pages is on the desk
    driver.click(".bench-link");
    driver.click("a[href$=\"/report\"]");
    driver.wait_until("location.pathname.endsWith('/report') && document.readyState === 'complete'");
    let report = driver.text("body");
    // 2 x 412 g + 1220.5 g + 14 x 7.4 g
    for words in ["Lid, pressed", "Bracket \"left\"", "Screw M6 × 20", "412 g", "2.148 kg"] {
        assert!(report.contains(words), "`{words}` is missing in {report}");
    }
    // the photo is there; it is drawn once somebody comes to it
    let photo = driver.text("#photos figure");
    assert!(photo.contains("Lid, pressed"), "{photo}");
    driver.js("document.querySelector('#photos figure').scrollIntoView()", &[]);
    driver.wait_until("document.querySelector('#photos figure img')?.naturalWidth > 0");
    // what is handed over asks for nothing, wherever it is opened
    let asked = driver.js("return performance.getEntriesByType('resource').map(e => e.name)", &[]);
    assert_eq!(asked, json!([]), "the report asks for something");
}

#[test]
fn a_part_without_a_name_is_not_taken_and_says_why() {
    let (site, driver) = (Site::new(), Driver::start());
    driver.goto(&site.page("bench"));
    driver.click(&hook("next-part"));
    driver.type_text(&hook("part-mass"), "12,5,5");
    driver.click(&hook("save-part"));
    let said = driver.text("[role=alert]");
    assert!(said.contains("a part needs a name") && said.contains("12"), "{said}");
    assert_eq!(driver.value(&hook("part-mass")), "12,5,5", "what was typed stays");
    assert_eq!(site.server.api().parts().len(), 1, "only the product itself");
}
