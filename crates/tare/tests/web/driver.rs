//! A browser driven as a person would: chromedriver over plain HTTP.
//!
//! Each [`Driver`] has a chromedriver, a browser and a profile folder of its own, so tests can run side by side. When it goes,
//! it fails the test if a page had an error or broke its content policy and the test did not say that this was to be.

use super::wire::Wire;
use serde_json::{Value, json};
use std::cell::{Cell, RefCell};
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// How long a thing that should come is waited for: so long that a busy machine is no fault.
const PATIENCE: Duration = Duration::from_secs(40);
/// What to do where the browser is missing: these tests are part of the promise and are not skipped.
const MISSING: &str = "the browser tests need Chromium and its driver: apt-get install -y chromium chromium-driver";
/// The name under which the protocol hands over an element.
pub(super) const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";

/// A browser with one window.
pub(crate) struct Driver {
    child: Child,
    address: String,
    session: String,
    /// The browser's own process: it outlives a chromedriver that is killed.
    browser: Option<u64>,
    pub(super) interactions: Cell<u32>,
    forgiven: RefCell<Vec<String>>,
    _profile: TempDir,
}

/// An element of the present page.
#[derive(Clone, Debug)]
pub(crate) struct Element(pub(super) String);

/// A command the browser refused: the protocol's word, and why.
#[derive(Debug)]
pub(crate) struct Refusal {
    pub(crate) error: String,
    pub(crate) message: String,
}

impl Driver {
    /// Starts a browser of 1280 x 900.
    pub(crate) fn start() -> Self {
        let browser = on_path("chromium").unwrap_or_else(|| panic!("{MISSING}"));
        let program = on_path("chromedriver").unwrap_or_else(|| panic!("{MISSING}"));
        let profile = tempfile::tempdir().expect("a folder for the profile");
        let (child, port) = listening(&program);
        let mut driver = Self {
            child,
            address: format!("127.0.0.1:{port}"),
            session: String::new(),
            browser: None,
            interactions: Cell::new(0),
            forgiven: RefCell::default(),
            _profile: profile,
        };
        let folder = driver._profile.path().display().to_string();
        let args = [
            "--headless=new",
            "--no-sandbox",
            "--disable-dev-shm-usage",
            "--force-prefers-reduced-motion",
            "--disable-background-networking",
            "--no-first-run",
            "--lang=en",
            "--window-size=1280,900",
            &format!("--user-data-dir={folder}"),
        ];
        let wanted = json!({"capabilities": {"alwaysMatch": {
            "browserName": "chrome",
            "timeouts": {"script": 60_000, "pageLoad": 60_000, "implicit": 0},
            "goog:chromeOptions": {"binary": browser, "args": args},
            "goog:loggingPrefs": {"browser": "ALL"},
        }}});
        let made = driver.send("POST", "/session", &wanted).unwrap_or_else(|e| panic!("{MISSING} ({})", e.message));
        made["sessionId"].as_str().expect("a session").clone_into(&mut driver.session);
        driver.browser = made["capabilities"]["goog:processID"].as_u64();
        driver
    }

    fn send(&self, method: &str, path: &str, body: &Value) -> Result<Value, Refusal> {
        // a connection a command: a window that idles for a minute would find a kept one closed
        let mut wire = Wire::to(&self.address, Duration::from_secs(90));
        let refusal = |error: &str, message: String| Refusal { error: error.to_owned(), message };
        let answer = match method {
            "POST" => wire.post(path, body),
            _ => wire.send(method, path, "application/json", b""),
        };
        let answer = answer.map_err(|e| refusal("no answer", format!("chromedriver gave no answer: {e}")))?;
        let mut read: Value = serde_json::from_slice(&answer.body).map_err(|e| refusal("no JSON", e.to_string()))?;
        let value = read["value"].take();
        match value["error"].as_str() {
            Some(error) if answer.status >= 400 => Err(refusal(error, value["message"].as_str().unwrap_or_default().to_owned())),
            _ => Ok(value),
        }
    }

    /// A command of the session.
    pub(crate) fn command(&self, method: &str, path: &str, body: &Value) -> Result<Value, Refusal> {
        self.send(method, &format!("/session/{}{path}", self.session), body)
    }

    #[track_caller]
    pub(super) fn must(&self, what: &str, done: Result<Value, Refusal>) -> Value {
        done.unwrap_or_else(|e| panic!("{what}: {} ({})\n{}", e.error, e.message, self.scene()))
    }

    /// Where the browser is and what it shows, for the message of a failed test.
    pub(crate) fn scene(&self) -> String {
        let script = "return [location.href, document.title, (document.body?.innerText ?? '').slice(0, 1500)]";
        let shown = self.command("POST", "/execute/sync", &json!({"script": script, "args": []}));
        let shown = shown.unwrap_or_else(|e| json!(["?", "?", e.message]));
        let line = |at: usize| shown[at].as_str().unwrap_or_default();
        format!("at {} \"{}\"\n{}\nerrors: {:#?}", line(0), line(1), line(2), self.console_errors())
    }

    #[track_caller]
    pub(crate) fn goto(&self, url: &str) {
        self.must(url, self.command("POST", "/url", &json!({"url": url})));
    }

    #[track_caller]
    pub(crate) fn url(&self) -> String {
        self.must("the address", self.command("GET", "/url", &Value::Null)).as_str().expect("an address").to_owned()
    }

    fn look(&self, css: &str) -> Result<Element, Refusal> {
        let found = self.command("POST", "/element", &json!({"using": "css selector", "value": css}))?;
        Ok(Element(found[ELEMENT].as_str().expect("an element").to_owned()))
    }

    /// The first element that matches, which must be there now.
    #[track_caller]
    pub(crate) fn find(&self, css: &str) -> Element {
        self.look(css).unwrap_or_else(|e| panic!("`{css}`: {} ({})\n{}", e.error, e.message, self.scene()))
    }

    /// Waits until an element matches.
    #[track_caller]
    pub(crate) fn wait_for(&self, css: &str) -> Element {
        let start = Instant::now();
        loop {
            match self.look(css) {
                Ok(element) => return element,
                Err(_) if start.elapsed() < PATIENCE => std::thread::sleep(Duration::from_millis(20)),
                Err(e) => panic!("`{css}` did not come: {} ({})\n{}", e.error, e.message, self.scene()),
            }
        }
    }

    /// Waits until an expression holds; while a page is changed for another, nothing holds.
    #[track_caller]
    pub(crate) fn wait_until(&self, condition: &str) {
        let start = Instant::now();
        let asked = json!({"script": format!("return Boolean({condition})"), "args": []});
        loop {
            let holds = self.command("POST", "/execute/sync", &asked);
            if holds.as_ref().is_ok_and(|holds| holds == true) {
                return;
            }
            let said = holds.map_or_else(|e| e.message, |_| "does not hold".to_owned());
            assert!(start.elapsed() < PATIENCE, "waited in vain for `{condition}`: {said}\n{}", self.scene());
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// The text an element shows.
    #[track_caller]
    pub(crate) fn text(&self, css: &str) -> String {
        self.ask(css, "return arguments[0].innerText").as_str().unwrap_or_default().to_owned()
    }

    #[track_caller]
    pub(crate) fn attribute(&self, css: &str, name: &str) -> Option<String> {
        let script = format!("return arguments[0].getAttribute({})", json!(name));
        self.ask(css, &script).as_str().map(str::to_owned)
    }

    /// What stands in a field.
    #[track_caller]
    pub(crate) fn value(&self, css: &str) -> String {
        self.ask(css, "return arguments[0].value").as_str().unwrap_or_default().to_owned()
    }

    /// Asks the first element that matches, once it is there.
    #[track_caller]
    pub(super) fn ask(&self, css: &str, script: &str) -> Value {
        let element = self.wait_for(css);
        self.js(script, &[json!({ELEMENT: element.0})])
    }

    /// Runs a script in the page; its arguments are in `arguments`, its answer is what it returns.
    #[track_caller]
    pub(crate) fn js(&self, script: &str, args: &[Value]) -> Value {
        self.must(
            script.get(..200).unwrap_or(script),
            self.command("POST", "/execute/sync", &json!({"script": script, "args": args})),
        )
    }

    /// As [`Driver::js`]; the script answers by calling its last argument.
    #[track_caller]
    pub(crate) fn js_async(&self, script: &str, args: &[Value]) -> Value {
        self.must(script, self.command("POST", "/execute/async", &json!({"script": script, "args": args})))
    }

    /// From here on, messages that hold these words are no errors.
    pub(crate) fn forgive(&self, words: &str) {
        self.forgiven.borrow_mut().push(words.to_owned());
    }

    /// Errors of scripts, failed requests and breaches of the content policy since the last time, taken out of the browser's log.
    pub(crate) fn console_errors(&self) -> Vec<String> {
        let log = self.command("POST", "/se/log", &json!({"type": "browser"}));
        let log = match log {
            Ok(log) => log.as_array().cloned().unwrap_or_default(),
            Err(e) => return vec![format!("the log cannot be read: {}", e.message)],
        };
        let text = |entry: &Value, field: &str| entry[field].as_str().unwrap_or_default().to_owned();
        let bad = |entry: &&Value| {
            let message = text(entry, "message");
            let forgiven = self.forgiven.borrow().iter().any(|words| message.contains(words));
            !forgiven && (entry["level"] == "SEVERE" || message.contains("Content Security Policy"))
        };
        log.iter().filter(bad).map(|entry| format!("{}: {}", text(entry, "source"), text(entry, "message"))).collect()
    }
}

impl Drop for Driver {
    fn drop(&mut self) {
        let errors = if self.session.is_empty() { Vec::new() } else { self.console_errors() };
        let closed = !self.session.is_empty() && self.command("DELETE", "", &Value::Null).is_ok();
        if let (false, Some(browser)) = (closed, self.browser) {
            let _ = Command::new("kill").args(["-KILL", &browser.to_string()]).status();
        }
        let _ = self.child.kill();
        let _ = self.child.wait();
        assert!(std::thread::panicking() || errors.is_empty(), "the pages had errors: {errors:#?}");
    }
}

fn on_path(name: &str) -> Option<PathBuf> {
    let path = std::env::var_os("PATH")?;
    std::env::split_paths(&path).map(|folder| folder.join(name)).find(|file| file.is_file())
}

/// A driver that listens, and its port. It takes one number for both families of addresses and ends where another program has that number in
/// one of them, so that it is started again.
fn listening(program: &Path) -> (Child, u16) {
    let mut said = String::new();
    for _ in 0..8 {
        let mut child = Command::new(program)
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap_or_else(|e| panic!("{MISSING} ({e})"));
        match read_port(&mut child) {
            Ok(port) => return (child, port),
            Err(words) => said = words,
        }
        let _ = child.kill();
        let _ = child.wait();
    }
    panic!("chromedriver names no port: {said}")
}

/// The port from "ChromeDriver was started successfully on port 40123.", else what was said; later lines are read away so that it never waits.
fn read_port(child: &mut Child) -> Result<u16, String> {
    let mut lines = BufReader::new(child.stdout.take().expect("piped")).lines();
    let mut said = String::new();
    let port = lines.by_ref().map_while(Result::ok).find_map(|line| {
        said += &line;
        line.split_once("successfully on port ")?.1.trim_end_matches('.').parse().ok()
    });
    std::thread::spawn(move || lines.map_while(Result::ok).count());
    port.ok_or(said)
}
