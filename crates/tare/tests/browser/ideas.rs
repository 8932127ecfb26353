//! Ideas in a browser: chosen, computed together, dropped with a reason, brought back in the history; and one written down.

use super::common::driver::Driver;
use super::common::server::{Api, Server, escaped, run};
use super::{Site, TARE, hook, wait_computed};
use serde_json::{Value, json};
use std::path::Path;

/// The example with its ideas.
fn example() -> (Site, String, Api) {
    let site = Site::made(|workspace| {
        run(Path::new(TARE), workspace, &["demo"]);
    });
    let answer = site.server.api().wire.get("/api/studies").expect("an answer");
    let studies: Value = serde_json::from_slice(&answer.body).expect("JSON");
    let study = studies["studies"][0]["name"].as_str().expect("a study").to_owned();
    let api = Api::of(&site.server.url, &study);
    (site, study, api)
}

/// The ideas once they are computed for the last entry.
#[track_caller]
fn ideas(api: &mut Api) -> Value {
    for _ in 0..600 {
        let found = api.get("ideas");
        if found["computing"] == false {
            return found["ideas"].clone();
        }
        std::thread::sleep(std::time::Duration::from_millis(400));
    }
    panic!("the ideas are still being computed");
}

fn labels(ideas: &Value) -> Vec<String> {
    ideas["ideas"].as_array().into_iter().flatten().filter_map(|row| row["label"].as_str()).map(str::to_owned).collect()
}

/// The selector of an idea's box.
fn choose(label: &str) -> String {
    format!("form#ideas input[name=idea][value=\"{label}\"]")
}

#[test]
fn ideas_are_computed_together_one_is_dropped_and_brought_back() {
    let ((site, study, mut api), driver) = (example(), Driver::start());
    let page = |name: &str| site.server.page(&format!("/s/{}/{name}", escaped(&study)));
    driver.goto(&page("ideas"));
    wait_computed(&driver);
    let found = ideas(&mut api);
    assert!(found["safety"].as_array().is_some_and(|rows| rows.len() >= 4), "{}", found["safety"]);
    let order = driver.js(
        "const at = s => [...document.querySelectorAll('main *')].indexOf(document.querySelector(s)); return at('.safety') < at('table.ideas')",
        &[],
    );
    assert_eq!(order, true, "safety findings stand before any gain");

    // ideas of a rule with a one-off cost each, and without tools
    let (one, two) = ("screw-forms-thread:J75", "rivet-nuts:J9");
    driver.click(&choose(one));
    driver.click(&choose(two));
    driver.click(&hook("together"));
    driver.wait_for(&hook("together-result"));
    let said = driver.text(&hook("chosen-panel"));
    let stake = |label: &str| {
        let rows = found["ideas"].as_array().expect("ideas");
        let row = rows.iter().find(|row| row["label"] == label).unwrap_or_else(|| panic!("no {label}"));
        row["worth"]["stake"]["value"].as_f64().expect("an amount")
    };
    let together = format!("{:.0}", stake(one) + stake(two));
    let digits: String = said.chars().filter(|c| *c != '\u{202f}').collect();
    assert!(digits.contains(&together), "both one-off costs, {together}: {said}");
    assert!(said.contains("Nothing was recorded"));
    driver.accessible();
    for width in [390, 768, 1280] {
        driver.overflow(width);
    }

    driver.set_size(1280, 900);
    driver.click(&choose(one));
    driver.click(&hook("drop"));
    driver.type_text(&hook("idea-says"), "opened at every service");
    driver.click(&hook("chosen-go"));
    driver.wait_until("document.querySelector('.dropped')?.innerText.includes('opened at every service')");
    wait_computed(&driver);
    let after = ideas(&mut api);
    assert!(!labels(&after).contains(&two.to_owned()), "it does not come back by itself");
    assert_eq!(after["dropped"][0][2], "opened at every service");

    driver.goto(&page("history"));
    let dropped =
        api.rows("history").into_iter().rev().find(|row| row["says"].as_str().is_some_and(|says| says.contains("dropped")));
    let number = dropped.expect("an entry")["number"].as_u64().expect("a number");
    driver.click(&format!("button[data-post=undo][data-number=\"{number}\"]"));
    driver.wait_for(&format!("button[data-post=redo][data-number=\"{number}\"]"));
    let back = ideas(&mut api);
    assert!(labels(&back).contains(&two.to_owned()), "taken back, it stands again");
    assert_eq!(back["dropped"], json!([]));
}

#[test]
fn an_idea_is_read_while_it_is_written_and_says_what_is_wrong_at_its_line() {
    let (site, driver) = (Site::new(), Driver::start());
    let mut api = site.server.api();
    let part = api.add_part("Lid", "100 g");
    driver.goto(&site.page("ideas"));
    wait_computed(&driver);
    driver.type_text("#i-name", "Thinner lid");
    driver.type_text("#i-edits", "sett P1/mass 90\nset P999/mass \"90 g\"");
    driver.wait_until(&format!("document.querySelectorAll('{} li').length === 2", hook("idea-said")));
    let said = driver.text(&hook("idea-said"));
    assert!(said.contains("line 1") && said.contains("line 2") && said.contains("P999"), "{said}");
    driver.accessible();
    driver.forgive("status of 422");
    driver.click(&hook("idea-add"));
    driver.wait_until(&format!("document.querySelectorAll('{} li').length === 2", hook("idea-said")));
    assert_eq!(driver.value("#i-name"), "Thinner lid", "what was written stays");

    driver.fill("#i-edits", &format!("set @{part}/mass \"90 g\""));
    driver.wait_until(&format!("document.querySelector('{}').innerText.includes('100 g -> 90 g')", hook("idea-said")));
    driver.click(&hook("idea-add"));
    driver.wait_until(
        "document.querySelector('main').innerText.includes('Thinner lid') && document.querySelector('#i-name').value === ''",
    );
    wait_computed(&driver);
    assert_eq!(labels(&ideas(&mut api)), ["I1"]);
    driver.goto(&site.page("idea?of=I1"));
    wait_computed(&driver);
    assert!(driver.text("main").contains("100 g -> 90 g"));
    driver.accessible();
}

#[test]
fn where_one_study_is_shown_nothing_tells_of_others() {
    let folder = tempfile::tempdir().expect("a folder");
    let workspace = folder.path().join("work");
    for name in ["Shown", "Hidden"] {
        run(Path::new(TARE), &workspace, &["new", name]);
    }
    let server = Server::start_with(Path::new(TARE), &workspace, &["--study", "Shown"]);
    let mut wire = server.api().wire;
    let mut told = |path: &str, body: Option<Value>| {
        let answer = match &body {
            Some(body) => wire.post(path, body),
            None => wire.get(path),
        };
        let answer = answer.unwrap_or_else(|e| panic!("{path}: {e}"));
        assert!(!answer.text().contains("Hidden"), "{path}: {}", answer.text());
        (answer.status, answer.text().to_owned())
    };
    for page in ["/compare", "/ask", "/ask?q=energy", "/s/Shown/compare", "/s/Shown/ideas"] {
        assert_eq!(told(page, None).0, 200, "{page}");
    }
    assert!(told("/compare", None).1.contains("show one study"));
    assert!(told("/ask", None).1.contains("show one study"));
    assert_eq!(told("/api/compare?with=Shown&with=Other", None).0, 403);
    assert_eq!(told("/api/questions", Some(json!({"rows": "study", "key": "own"}))).0, 403);
    let take = json!({"ideas": ["I1"], "name": "Variant"});
    assert_eq!(told("/api/studies/Shown/ideas-take", Some(take)).0, 403);
    let question = json!({"rows": "study", "show": ["mass"]});
    let answer = (0..600).find_map(|_| {
        std::thread::sleep(std::time::Duration::from_millis(100));
        let (status, text) = told("/api/ask", Some(question.clone()));
        assert_eq!(status, 200, "{text}");
        let answer: Value = serde_json::from_str(&text).expect("JSON");
        (answer["computing"] == false).then(|| answer["answer"].clone())
    });
    assert_eq!(answer.expect("an answer")["studies"], 1);
}
