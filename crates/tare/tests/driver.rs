//! The driver's own test: its checks fail on a page with known faults and pass on a good one.

#[path = "web/mod.rs"]
mod common;

use common::{checks, driver::Driver, relay::Relay};
use serde_json::json;
use sha2::{Digest, Sha256};
use std::io::{BufRead, BufReader, Write};
use std::net::{TcpListener, TcpStream};
use std::time::Duration;

/// The policy of the program's pages.
const POLICY: &str = "default-src 'self'; img-src 'self' blob: data:; style-src 'self'; script-src 'self'; object-src 'none'";

const GOOD: &str = r##"<!doctype html><html lang="en"><head><title>Good</title><link rel="icon" href="data:,">
<meta name="viewport" content="width=device-width"><link rel="stylesheet" href="/good.css"></head>
<body><main><h1>Good page</h1><p id="said">nothing said</p><img src="data:image/png;base64,iVBORw0KGgo=" alt="A lid">
<div class="scrolls" tabindex="0"><div class="wide">a wide table that scrolls by itself</div></div>
<label>Name <input id="name" value="old"></label> <button id="save">Save</button>
<label>Photo <input id="photo" type="file"></label></main><script type="module" src="/good.js"></script></body></html>"##;

const GOOD_CSS: &str = ".scrolls { overflow-x: auto; } .wide { width: 3000px; } body { background: #fff; color: #111; }
@media (prefers-color-scheme: dark) { body { background: #111; color: #eee; } }";

const GOOD_JS: &str = "
const said = document.querySelector('#said');
document.querySelector('#save').addEventListener('click', () => { said.textContent = document.querySelector('#name').value; });
document.querySelector('#photo').addEventListener('change', e => { said.textContent = e.target.files[0].size + ' bytes'; });
document.addEventListener('keydown', e => { if (e.ctrlKey && e.key === 'z') said.textContent = 'undone'; });
const live = new EventSource('/live');
live.addEventListener('error', () => { document.body.dataset.live = 'lost'; });
live.addEventListener('open', () => { document.body.dataset.live = 'here'; });
";

const BAD: &str = r#"<!doctype html><html lang="en"><head><title>Bad</title><link rel="icon" href="data:,">
<link rel="stylesheet" href="/bad.css"></head><body><main><h1>Bad page</h1><img src="data:image/png;base64,iVBORw0KGgo=">
<p class="pale">pale words</p><div id="table" class="wide">too wide</div><div id="cover">covers</div><button id="under">Under</button>
</main><script src="/bad.js"></script><script>window.inline = 1</script></body></html>"#;

const BAD_CSS: &str = ".wide { width: 2000px; } .pale { color: #ccc; background: #fff; }
#cover { position: fixed; inset: 0; }";

const BAD_JS: &str = "window.early = 1; throw new Error('a fault made on purpose');";

/// Serves the pages; gives the address.
fn pages() -> String {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = format!("http://{}", listener.local_addr().expect("an address"));
    std::thread::spawn(move || {
        for stream in listener.incoming().map_while(Result::ok) {
            std::thread::spawn(move || answer(stream));
        }
    });
    address
}

fn answer(mut stream: TcpStream) {
    let mut lines = BufReader::new(stream.try_clone().expect("a second handle")).lines().map_while(Result::ok);
    let path = lines.next().unwrap_or_default().split(' ').nth(1).unwrap_or_default().to_owned();
    lines.by_ref().take_while(|line| !line.is_empty()).count();
    let (status, kind, body) = match path.as_str() {
        "/good" => (200, "text/html", GOOD),
        "/good.css" => (200, "text/css", GOOD_CSS),
        "/good.js" => (200, "text/javascript", GOOD_JS),
        "/bad" => (200, "text/html", BAD),
        "/bad.css" => (200, "text/css", BAD_CSS),
        "/bad.js" => (200, "text/javascript", BAD_JS),
        "/favicon.ico" => (200, "image/png", ""),
        "/live" => return live(&mut stream),
        _ => (404, "text/plain", "not here"),
    };
    let length = body.len();
    let head = format!("HTTP/1.1 {status} So\r\ncontent-type: {kind}; charset=utf-8\r\ncontent-length: {length}\r\n");
    let policy = format!("content-security-policy: {POLICY}\r\nconnection: close\r\n\r\n");
    // a browser that went away meanwhile is no fault of the page
    let _ = stream.write_all((head + &policy + body).as_bytes());
}

/// A stream of events that never ends by itself.
fn live(stream: &mut TcpStream) {
    let mut sent =
        stream.write_all(b"HTTP/1.1 200 So\r\ncontent-type: text/event-stream\r\nconnection: close\r\n\r\nretry: 100\n\n");
    while sent.is_ok() {
        std::thread::sleep(Duration::from_millis(200));
        sent = stream.write_all(b": still here\n\n");
    }
}

#[test]
fn a_good_page_passes_every_check() {
    let (pages, driver) = (pages(), Driver::start());
    driver.goto(&format!("{pages}/good"));
    driver.wait_for("#said");
    for width in [390, 768, 1280, 1920] {
        driver.overflow(width);
        assert_eq!(driver.js("return innerWidth", &[]), width);
    }
    for (dark, colour) in [(true, "rgb(17, 17, 17)"), (false, "rgb(255, 255, 255)")] {
        driver.dark(dark);
        assert_eq!(driver.js("return getComputedStyle(document.body).backgroundColor", &[]), colour);
        driver.accessible();
    }
    assert_eq!(driver.js("return matchMedia('(prefers-reduced-motion: reduce)').matches", &[]), true);
    driver.quiet();
}

#[test]
fn hands_do_what_a_person_does() {
    let (pages, driver) = (pages(), Driver::start());
    driver.goto(&format!("{pages}/good"));
    driver.fill("#name", "Lid <b>ß 日本");
    driver.click("#save");
    assert_eq!(driver.text("#said"), "Lid <b>ß 日本");
    driver.type_text("#name", "!");
    assert_eq!(driver.value("#name"), "Lid <b>ß 日本!");
    driver.keys("Control+z");
    driver.wait_until("document.querySelector('#said').textContent === 'undone'");
    driver.click("#name");
    driver.keys("Control+a");
    driver.type_here("Base");
    driver.keys("Tab");
    driver.keys("Enter");
    driver.wait_until("document.querySelector('#said').textContent === 'Base'");
    assert_eq!(driver.interactions(), 9);
    assert_eq!(driver.attribute("#photo", "type").as_deref(), Some("file"));
    assert_eq!(driver.attribute("#photo", "name"), None);

    let folder = tempfile::tempdir().expect("a folder");
    let picture = folder.path().join("picture.png");
    driver.screenshot(&picture);
    let bytes = std::fs::read(&picture).expect("a picture");
    assert!(bytes.starts_with(b"\x89PNG\r\n\x1a\n") && bytes.ends_with(b"IEND\xaeB\x60\x82"), "a whole picture");
    driver.upload("#photo", &picture);
    driver.wait_until(&format!("document.querySelector('#said').textContent === '{} bytes'", bytes.len()));
    assert_eq!(driver.js("return arguments[0].a + 1", &[json!({"a": 2})]), 3);
    assert_eq!(driver.js_async("setTimeout(arguments[1], 5, arguments[0])", &[json!("later")]), "later");
}

/// Asks for the good page from within it: what came back, or that nothing did.
const FETCH: &str = "const done = arguments[0]; fetch('/good').then(a => done(a.status), () => done('cut'))";

#[test]
fn a_browser_goes_offline_and_back() {
    let (pages, driver) = (pages(), Driver::start());
    driver.goto(&format!("{pages}/good"));
    driver.offline(true);
    assert_eq!(driver.js_async(FETCH, &[]), "cut");
    assert_eq!(driver.js("return navigator.onLine", &[]), false);
    driver.offline(false);
    assert_eq!(driver.js_async(FETCH, &[]), 200);
}

#[test]
fn a_browser_refuses_some_addresses_alone() {
    let (pages, driver) = (pages(), Driver::start());
    driver.goto(&format!("{pages}/bad.css"));
    driver.forgive("net::ERR_BLOCKED_BY_CLIENT");
    driver.block("*/live*");
    assert_eq!(driver.js_async(FETCH, &[]), 200);
    driver.block("*/good*");
    assert_eq!(driver.js_async(FETCH, &[]), "cut");
}

#[test]
fn a_relay_breaks_connections_and_loses_answers() {
    let (relay, driver) = (Relay::before(&pages()), Driver::start());
    driver.forgive("net::ERR_");
    driver.goto(&format!("{}good", relay.url));
    driver.wait_until("document.body.dataset.live === 'here'");
    relay.cut();
    assert_eq!(driver.js_async(FETCH, &[]), "cut");
    driver.wait_until("document.body.dataset.live === 'lost'");
    relay.mend();
    assert_eq!(driver.js_async(FETCH, &[]), 200);
    driver.wait_until("document.body.dataset.live === 'here'");
    let before = relay.lost();
    relay.lose_answers();
    assert_eq!(driver.js_async(FETCH, &[]), "cut");
    assert!(relay.lost() > before);
}

#[test]
fn faults_are_found() {
    let (pages, driver) = (pages(), Driver::start());
    driver.goto(&format!("{pages}/bad"));
    assert_eq!(driver.js("return [window.early, window.inline]", &[]), json!([1, null]), "the policy bars inline scripts");

    let errors = driver.console_errors().join("\n");
    for words in ["a fault made on purpose", "Content Security Policy"] {
        assert!(errors.contains(words), "`{words}` is missing in {errors}");
    }
    driver.quiet();

    let broken = driver.axe().join("\n");
    for words in ["critical image-alt at `img`", "serious color-contrast at `p`"] {
        assert!(broken.contains(words), "`{words}` is missing in {broken}");
    }
    let wide = driver.overflows(390).join("\n");
    for words in ["2008 wide in a window of 390", "div#table.wide in main reaches 1618 px out: too wide"] {
        assert!(wide.contains(words), "`{words}` is missing in {wide}");
    }
    driver.goto(&format!("{pages}/missing"));
    assert!(driver.console_errors().join("\n").contains("404"), "a failed request is an error");
}

#[test]
fn every_assertion_can_fail() {
    let pages = pages();
    let fails = |what: &str, act: &(dyn Fn(&Driver) + std::panic::RefUnwindSafe)| {
        let page = format!("{pages}/bad");
        let done = std::panic::catch_unwind(|| {
            let driver = Driver::start();
            driver.goto(&page);
            driver.console_errors();
            act(&driver);
        });
        let said = done.expect_err(what);
        let said = said.downcast_ref::<String>().expect("a message");
        assert!(said.contains(what), "`{what}` is missing in {said}");
    };
    fails("image-alt", &|driver| driver.accessible());
    fails("div#table.wide", &|driver| driver.overflow(1280));
    fails("element click intercepted", &|driver| driver.click("#under"));
    fails("no such element", &|driver| drop(driver.find("#nowhere")));
    // the browser's log is read when the driver goes, so an error nobody asked for fails its test as well
    let unread = std::panic::catch_unwind(|| {
        let driver = Driver::start();
        driver.goto(&format!("{pages}/bad"));
    });
    let unread = unread.expect_err("unread errors fail a test");
    assert!(unread.downcast_ref::<String>().expect("a message").contains("a fault made on purpose"));
}

#[test]
fn the_rules_of_accessibility_are_those_of_their_note() {
    let folder = checks::axe_folder();
    let note = std::fs::read_to_string(folder.join("README.md")).expect("a note");
    let rules = std::fs::read(folder.join("axe.min.js")).expect("the rules");
    let digest: String = Sha256::digest(&rules).iter().map(|byte| format!("{byte:02x}")).collect();
    assert!(note.contains(&digest), "axe.min.js has the digest {digest}, the note another");
    assert!(folder.join("LICENSE").is_file(), "its licence lies beside it");
}
