//! A person's hands: clicking, typing, keys and files, all counted; and the world around the page: its size, colours, connection.

use super::driver::Driver;
use serde_json::{Value, json};
use std::path::Path;

impl Driver {
    /// Does something to an element; once more where a live page put another in its place meanwhile.
    #[track_caller]
    fn act(&self, css: &str, path: &str, body: &Value) -> Value {
        let done = || {
            let element = self.wait_for(css);
            self.command("POST", &format!("/element/{}/{path}", element.0), body)
        };
        let first = done();
        let again = first.as_ref().is_err_and(|e| e.error == "stale element reference");
        self.must(&format!("{path} of `{css}`"), if again { done() } else { first })
    }

    /// Clicks in the middle of an element, which nothing may cover. One interaction.
    ///
    /// The browser scrolls no further than it must, which may leave a bar over the element; a person scrolls on, and so does this.
    #[track_caller]
    pub(crate) fn click(&self, css: &str) {
        self.count();
        let element = self.wait_for(css);
        let Err(refusal) = self.command("POST", &format!("/element/{}/click", element.0), &json!({})) else { return };
        if refusal.error == "element click intercepted" {
            self.ask(css, "arguments[0].scrollIntoView({block: 'center', behavior: 'instant'})");
        }
        self.act(css, "click", &json!({}));
    }

    /// Types behind what a field holds. One interaction: the field picked and its text written.
    #[track_caller]
    pub(crate) fn type_text(&self, css: &str, text: &str) {
        self.count();
        self.act(css, "value", &json!({"text": text}));
    }

    /// Types over what a field holds. One interaction.
    #[track_caller]
    pub(crate) fn fill(&self, css: &str, text: &str) {
        self.type_text(css, &format!("\u{E009}a\u{E000}{text}"));
    }

    /// Hands a file to a file input, as the picker or camera would. One interaction.
    #[track_caller]
    pub(crate) fn upload(&self, css: &str, path: &Path) {
        let path = path.canonicalize().expect("the file is there");
        self.type_text(css, &path.display().to_string());
    }

    /// Presses keys where the focus is: `Enter`, `Control+z`, `F2`, or a single letter. One interaction.
    #[track_caller]
    pub(crate) fn keys(&self, chord: &str) {
        self.count();
        let keys: Vec<String> = chord.split('+').map(key).collect();
        let down = keys.iter().map(|key| json!({"type": "keyDown", "value": key}));
        let up = keys.iter().rev().map(|key| json!({"type": "keyUp", "value": key}));
        self.strokes(chord, down.chain(up).collect());
    }

    /// Types a text where the focus is. One interaction.
    #[track_caller]
    pub(crate) fn type_here(&self, text: &str) {
        self.count();
        let stroke = |c: char| [json!({"type": "keyDown", "value": c}), json!({"type": "keyUp", "value": c})];
        self.strokes(text, text.chars().flat_map(stroke).collect());
    }

    #[track_caller]
    fn strokes(&self, what: &str, strokes: Vec<Value>) {
        let body = json!({"actions": [{"type": "key", "id": "keys", "actions": strokes}]});
        self.must(what, self.command("POST", "/actions", &body));
    }

    fn count(&self) {
        self.interactions.set(self.interactions.get() + 1);
    }

    /// How often something was clicked, typed, pressed or picked.
    pub(crate) fn interactions(&self) -> u32 {
        self.interactions.get()
    }

    /// A command of the browser's own protocol.
    #[track_caller]
    fn browser(&self, name: &str, params: &Value) -> Value {
        self.must(name, self.command("POST", "/goog/cdp/execute", &json!({"cmd": name, "params": params})))
    }

    /// Lays the page out in so many pixels. A window cannot be narrower than 500, so the page is told another size.
    #[track_caller]
    pub(crate) fn set_size(&self, width: u32, height: u32) {
        let size = json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": false});
        self.browser("Emulation.setDeviceMetricsOverride", &size);
    }

    /// Asks pages for their dark colours, or for their light ones.
    #[track_caller]
    pub(crate) fn dark(&self, dark: bool) {
        let scheme = if dark { "dark" } else { "light" };
        let features = json!([
            {"name": "prefers-color-scheme", "value": scheme},
            {"name": "prefers-reduced-motion", "value": "reduce"},
        ]);
        self.browser("Emulation.setEmulatedMedia", &json!({"features": features}));
    }

    /// Has the browser refuse every new request, or lets it again; failed requests are then no errors of the page.
    ///
    /// Streams of events that are already open stay so: [`super::relay::Relay`] cuts those too.
    #[track_caller]
    pub(crate) fn offline(&self, offline: bool) {
        self.forgive("net::ERR_INTERNET_DISCONNECTED");
        self.browser("Network.enable", &json!({}));
        let condition = json!({"offline": offline, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1});
        self.browser("Network.emulateNetworkConditions", &condition);
    }

    /// Has the browser refuse requests to addresses of this pattern from here on, `*` standing for anything.
    #[track_caller]
    pub(crate) fn block(&self, pattern: &str) {
        self.browser("Network.enable", &json!({}));
        self.browser("Network.setBlockedURLs", &json!({"urls": [pattern]}));
    }

    /// Writes a picture of what is to be seen, as PNG.
    #[track_caller]
    pub(crate) fn screenshot(&self, path: &Path) {
        let shown = self.must("a picture", self.command("GET", "/screenshot", &Value::Null));
        std::fs::write(path, base64(shown.as_str().expect("a picture"))).expect("the picture is written");
    }
}

/// The protocol's character of a named key.
fn key(name: &str) -> String {
    const NAMED: [(&str, char); 20] = [
        ("Backspace", '\u{E003}'),
        ("Tab", '\u{E004}'),
        ("Enter", '\u{E007}'),
        ("Shift", '\u{E008}'),
        ("Control", '\u{E009}'),
        ("Alt", '\u{E00A}'),
        ("Escape", '\u{E00C}'),
        ("Space", ' '),
        ("PageUp", '\u{E00E}'),
        ("PageDown", '\u{E00F}'),
        ("End", '\u{E010}'),
        ("Home", '\u{E011}'),
        ("ArrowLeft", '\u{E012}'),
        ("ArrowUp", '\u{E013}'),
        ("ArrowRight", '\u{E014}'),
        ("ArrowDown", '\u{E015}'),
        ("Insert", '\u{E016}'),
        ("Delete", '\u{E017}'),
        ("F1", '\u{E031}'),
        ("F2", '\u{E032}'),
    ];
    let named = NAMED.iter().find(|(known, _)| *known == name).map(|(_, c)| c.to_string());
    assert!(named.is_some() || name.chars().count() == 1, "`{name}` is no key");
    named.unwrap_or_else(|| name.to_owned())
}

fn base64(text: &str) -> Vec<u8> {
    let digit = |byte: u8| match byte {
        b'A'..=b'Z' => Some(byte - b'A'),
        b'a'..=b'z' => Some(byte - b'a' + 26),
        b'0'..=b'9' => Some(byte - b'0' + 52),
        b'+' => Some(62),
        b'/' => Some(63),
        _ => None,
    };
    let digits: Vec<u8> = text.bytes().filter_map(digit).collect();
    let bytes = digits.chunks(4).flat_map(|four| {
        let bits = four.iter().fold(0, |bits, digit| bits << 6 | u32::from(*digit)) << (6 * (4 - four.len()));
        bits.to_be_bytes().into_iter().skip(1).take(four.len() * 6 / 8)
    });
    bytes.collect()
}
