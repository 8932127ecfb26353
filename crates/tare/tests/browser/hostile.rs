//! Texts that try to be more than text, in every field that takes words: shown as they are, on every page.

use super::common::driver::Driver;
use super::common::server::{Api, escaped, fresh_id, run};
use super::{PAGES, Site, TARE, wait_computed};
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::path::Path;

const TEXTS: [&str; 8] = [
    "<img src=x onerror=window.pwned=1>",
    "\"><script>window.pwned=1</script>",
    "javascript:window.pwned=1//",
    "' onmouseover='window.pwned=1' x='",
    "</title></style></textarea><svg onload=window.pwned=1>",
    "${window.pwned=1}{{window.pwned=1}}",
    "--></script><script>window.pwned=1</script>",
    "\u{202E}gnp.\u{2066}<b onclick=window.pwned=1>",
];

/// Kinds of records and their fields for words; what one does not know is refused and left out.
const KINDS: [(&str, &[&str]); 14] = [
    ("part", &["name", "label", "says", "function", "position"]),
    ("joint", &["name", "label", "says"]),
    ("removal", &["name", "says", "tool", "due", "who"]),
    ("hold", &["name", "says", "who"]),
    ("finding", &["name", "says"]),
    ("photo", &["name", "says", "who", "callouts"]),
    ("sample", &["name", "says"]),
    ("specimen", &["name", "says"]),
    ("instrument", &["name", "says"]),
    ("operation", &["name", "says"]),
    ("tool", &["name", "says"]),
    ("feature", &["name", "says"]),
    ("quote", &["supplier", "place", "contains"]),
    ("review", &["group", "who", "says"]),
];

/// Tries an entry; refusals are the server's right.
fn attempt(api: &mut Api, commands: &Value) -> Option<Value> {
    let answer = api.entry(&fresh_id(), TEXTS[0], commands).expect("an answer");
    assert!(matches!(answer.status, 200 | 409 | 422), "{commands}: {} {}", answer.status, answer.text());
    (answer.status == 200).then(|| serde_json::from_slice(&answer.body).expect("JSON"))
}

/// Fills every field that takes it; gives how many did.
fn fill(api: &mut Api) -> usize {
    let mut taken = 0;
    for (at, text) in TEXTS.iter().enumerate() {
        let part = api.add_part(text, "12 g");
        for (kind, fields) in KINDS {
            // a record is tried with a reference to the part, under it, and alone: kinds differ in what they need
            let with = |more: Value, under: Value| {
                let mut all = json!({"name": text});
                all.as_object_mut().expect("an object").extend(more.as_object().expect("an object").clone());
                json!([{"add": {"kind": kind, "under": under, "fields": all}}])
            };
            let (here, parts) = (json!(format!("@{part}")), json!({"parts": format!("@{part}")}));
            let made = [with(parts, Value::Null), with(json!({}), here), with(json!({}), Value::Null)];
            let Some(made) = made.iter().find_map(|commands| attempt(api, commands)) else { continue };
            let record = made["records"].as_array().into_iter().flatten().find(|record| record["kind"] == kind);
            let Some(id) = record.and_then(|record| record["id"].as_str()) else { continue };
            for field in fields {
                let unlike = format!("{text} {at}");
                taken +=
                    usize::from(attempt(api, &json!([{"set": {"target": format!("@{id}/{field}"), "to": unlike}}])).is_some());
            }
        }
        let said = json!({"target": format!("@{part}/mass"), "to": "13 g", "evidence": "assumed", "source": text, "who": text});
        taken += usize::from(attempt(api, &json!([{"set": said}])).is_some());
    }
    taken
}

/// Goes to a page and asserts that texts there are texts.
#[track_caller]
fn harmless(driver: &Driver, url: &str) {
    driver.goto(url);
    driver.wait_for("body");
    wait_computed(driver);
    // scripts that build the page have done so when nothing was added for two frames
    driver.js_async(
        "const done = arguments[0]; let seen = -1; const look = () => { const now = document.querySelectorAll('*').length;
         if (now === seen) done(null); else { seen = now; setTimeout(look, 120); } }; look()",
        &[],
    );
    let found = driver.js(
        "return {pwned: window.pwned ?? null,
           made: [...document.querySelectorAll('[onerror],[onload],[onclick],[onmouseover],img[src=x]'), ...[...document.scripts].filter(s => s.type !== 'application/json' && s.text.includes('pwned'))].map(e => e.outerHTML.slice(0, 200)),
           links: [...document.querySelectorAll('[href],[src],[action]')].map(e => e.getAttribute('href') ?? e.getAttribute('src') ?? e.getAttribute('action'))
             .filter(a => /^\\s*javascript:/i.test(a))}",
        &[],
    );
    assert_eq!(found, json!({"pwned": null, "made": [], "links": []}), "{url}");
    // the content policy would stop what got through, and says so in the log: that counts as well
    driver.quiet();
}

#[test]
fn texts_are_texts_on_every_page() {
    let study = "<img src=x onerror=window.pwned=1> & \"study\"";
    let site = Site::made(|workspace| {
        run(Path::new(TARE), workspace, &["new", study]);
    });
    let mut api = Api::of(&site.server.url, study);
    let taken = fill(&mut api);
    assert!(taken > 100, "only {taken} fields took the texts: the test looks at too little");

    let driver = Driver::start();
    let base = format!("/s/{}", escaped(study));
    let mut due: Vec<String> =
        PAGES.iter().map(|page| site.server.page(&format!("{base}/{page}")).trim_end_matches('/').to_owned()).collect();
    due.extend(
        ["parts?filter=%3Cimg%20src%3Dx%20onerror%3Dwindow.pwned%3D1%3E", "reason?line=%3Cimg%20src%3Dx%20onerror%3D1%3E"]
            .map(|page| site.server.page(&format!("{base}/{page}"))),
    );
    // an address that is wrong shows what was asked for, which is a text of a stranger as well
    driver.forgive("status of 404");
    driver.forgive("status of 422");
    let mut seen: BTreeSet<String> = due.iter().cloned().collect();
    let mut looked = 0;
    let mut shown = 0;
    while let Some(url) = due.pop() {
        harmless(&driver, &url);
        looked += 1;
        shown += usize::from(driver.text("body").contains(TEXTS[0]));
        // links lead on to parts, photos and reasons; so many of a kind are enough
        for link in driver.links() {
            let (page, _) = link.split_once('?').unwrap_or((&link, ""));
            let alike = seen.iter().filter(|known| known.starts_with(page)).count();
            if link.contains(&base) && alike < 12 && !link.contains("without=") && seen.insert(link.clone()) {
                due.push(link);
            }
        }
        assert!(looked < 400, "the pages have no end");
    }
    assert!(shown >= 5, "the texts are to be seen as they are on few pages only: {shown} of {looked}");
}
