//! What every page keeps: no sideways scrolling from a phone to a wide screen, and no serious breach of the rules of accessibility.

use super::common::driver::Driver;
use super::common::server::{STUDY, escaped, run};
use super::grid::{cell, paste};
use super::{PAGES, Site, TARE, hook, wait_computed};
use serde_json::{Value, json};
use std::path::Path;

/// A page that is not there: what says so is a page as well.
const NOWHERE: &str = "no-such-page";

const WIDTHS: [u32; 4] = [390, 768, 1280, 1920];

/// The example workspace, where every page has something to show, and the addresses of all its pages.
fn example() -> (Site, Vec<String>) {
    let site = Site::made(|workspace| {
        run(Path::new(TARE), workspace, &["demo"]);
        // beside a second study, or the list of studies would lead on to the only one
        run(Path::new(TARE), workspace, &["new", STUDY]);
    });
    let answer = site.server.api().wire.get("/api/studies").expect("an answer");
    let studies: Value = serde_json::from_slice(&answer.body).expect("JSON");
    let mut names = studies["studies"].as_array().into_iter().flatten().filter_map(|study| study["name"].as_str());
    let study = names.find(|name| *name != STUDY).expect("the example").to_owned();
    let mut api = super::common::server::Api::of(&site.server.url, &study);
    let base = format!("/s/{}", escaped(&study));
    let mut pages: Vec<String> = PAGES.iter().map(|page| format!("{base}/{page}").trim_end_matches('/').to_owned()).collect();
    let rows = api.parts();
    let costly = rows.iter().find(|row| row["cost"]["line"].is_string()).expect("a part with a cost");
    let text = |value: &Value| value.as_str().expect("a text").to_owned();
    pages.push(format!("{base}/part?of=@{}", text(&costly["id"])));
    pages.push(format!("{base}/reason?line={}", escaped(&text(&costly["cost"]["line"]))));
    let photos = api.rows("list?kind=photo");
    pages.push(format!("{base}/photo?of=@{}", text(&photos.first().expect("a photo")["id"])));
    let others = names_of(&studies);
    let with: Vec<String> = others.iter().map(|name| format!("with={}", escaped(name))).collect();
    pages.push(format!("{base}/idea?of=rivet-nuts:J9"));
    pages.push(format!("{base}/ideas?kind=fastening"));
    pages.push(format!("/compare?{}", with.join("&")));
    pages.push(format!("/compare?{}&by=joints+by+method", with.join("&")));
    pages.extend(["/compare", "/ask", "/ask?q=energy", "/ask?q=small-metal-parts"].map(str::to_owned));
    pages.push(format!("/ask?rows=part&when={}&show={}", escaped("cout > 3 and foo"), escaped("nix\nmass in m")));
    pages.extend([format!("{base}/{NOWHERE}"), "/".to_owned()]);
    let pages = pages.iter().map(|page| site.server.page(page)).collect();
    (site, pages)
}

/// The studies of the example, by name.
fn names_of(studies: &Value) -> Vec<String> {
    let names = studies["studies"].as_array().into_iter().flatten().filter_map(|study| study["name"].as_str());
    names.filter(|name| *name != STUDY).map(str::to_owned).collect()
}

/// Goes to a page and waits until its scripts have built it.
fn open(driver: &Driver, url: &str) {
    driver.goto(url);
    wait_computed(driver);
    driver.js_async(
        "const done = arguments[0]; let seen = -1; const look = () => { const now = document.querySelectorAll('*').length;
         if (now === seen) done(null); else { seen = now; setTimeout(look, 150); } }; look()",
        &[],
    );
}

#[test]
fn no_page_scrolls_sideways() {
    let ((_site, pages), driver) = (example(), Driver::start());
    driver.forgive(NOWHERE);
    let mut wide = Vec::new();
    for page in &pages {
        open(&driver, page);
        for width in WIDTHS {
            let found = driver.overflows(width);
            if !found.is_empty() {
                wide.push(format!("{page} at {width}: {found:#?}"));
            }
        }
        wide.extend(driver.console_errors());
    }
    assert!(wide.is_empty(), "{}", wide.join("\n"));
}

#[test]
fn no_page_breaks_a_serious_rule_of_accessibility() {
    let ((_site, pages), driver) = (example(), Driver::start());
    driver.forgive(NOWHERE);
    let mut broken = Vec::new();
    for page in &pages {
        open(&driver, page);
        for (dark, name) in [(false, "light"), (true, "dark")] {
            driver.dark(dark);
            broken.extend(driver.axe().into_iter().map(|fault| format!("{page} in {name}: {fault}")));
        }
        broken.extend(driver.console_errors());
    }
    assert!(broken.is_empty(), "{}", broken.join("\n"));
}

/// Opens a panel of the parts grid.
fn open_panel(driver: &Driver, panel: &str) {
    match panel {
        "help" => driver.click(&hook("help")),
        "menu" => driver.click(&hook("row-menu")),
        "add" => {
            driver.click(&hook("row-menu"));
            driver.click(&hook("row-below"));
        }
        _ => paste(driver, "200 g\t\n300 g\tmuch"),
    }
    driver.wait_for(&hook(&format!("panel-{panel}")));
}

#[test]
fn the_panels_of_the_grid_keep_to_the_rules_as_well() {
    let (site, driver) = (Site::new(), Driver::start());
    let mut api = site.server.api();
    for name in ["Lid", "Seal"] {
        api.add_part(name, "100 g");
    }
    for width in [390, 1280] {
        for panel in ["help", "menu", "add", "paste"] {
            driver.set_size(width, 900);
            open(&driver, &site.page("parts"));
            driver.click(&cell(1, "name"));
            open_panel(&driver, panel);
            for dark in [false, true] {
                driver.dark(dark);
                driver.accessible();
            }
            driver.overflow(width);
            let out = driver.js(
                "const r = document.querySelector(arguments[0]).getBoundingClientRect(); return r.left < 0 || r.right > innerWidth",
                &[json!(hook(&format!("panel-{panel}")))],
            );
            assert_eq!(out, false, "{panel} reaches out of a window of {width}");
        }
    }
}
