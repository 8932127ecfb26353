//! What every page must keep: rules of accessibility, and its content within its width.

use super::driver::Driver;
use serde_json::{Value, json};
use std::path::Path;

/// The folder of the accessibility rules.
pub(crate) fn axe_folder() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/vendor/axe-core")
}

/// Runs the rules and tells the serious breaches: weight, rule, help, the selectors of the places, and what is wrong at the first.
const AXE: &str = "
const done = arguments[arguments.length - 1];
axe.run(document, {resultTypes: ['violations'], iframes: false}).then(found => done({found: found.violations
    .filter(v => v.impact === 'serious' || v.impact === 'critical')
    .map(v => ({impact: v.impact, rule: v.id, help: v.help, says: v.nodes[0]?.failureSummary ?? '',
        places: v.nodes.slice(0, 4).map(n => '`' + n.target.flat().join(' ') + '`').join(', ')
            + (v.nodes.length > 4 ? ` and ${v.nodes.length - 4} more` : ''),
    }))}), error => done({error: String(error)}));
";

/// The elements that reach furthest out of the page; those inside a part that scrolls or clips by itself are not seen to.
const WIDE: &str = "
const root = document.documentElement, width = root.clientWidth;
if (root.scrollWidth <= width) return [];
// what is placed absolutely is held by those alone that it is placed against
const held = e => {
    let { position } = getComputedStyle(e);
    for (let p = e.parentElement; p && p !== document.body && p !== root; p = p.parentElement) {
        const style = getComputedStyle(p);
        if (position === 'absolute' && style.position === 'static') continue;
        if (style.overflowX !== 'visible') return true;
        position = style.position;
    }
    return false;
};
const named = e => e.tagName.toLowerCase() + (e.id ? '#' + e.id : '') + [...e.classList].map(c => '.' + c).join('')
    + (e.dataset.test ? `[data-test=${e.dataset.test}]` : '');
const out = r => r.right + scrollX - width;
const found = [...document.body.querySelectorAll('*')].map(e => [out(e.getBoundingClientRect()), e, e.innerText ?? '']);
// a long word reaches out of a box that is itself no wider than it should be
const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), range = document.createRange();
while (texts.nextNode()) {
    range.selectNodeContents(texts.currentNode);
    found.push([out(range.getBoundingClientRect()), texts.currentNode.parentElement, texts.currentNode.data.trim()]);
}
return [`the page is ${root.scrollWidth} wide in a window of ${width}`, ...found
    .filter(([by, e]) => by > 0.5 && !held(e)).sort((a, b) => b[0] - a[0]).slice(0, 6)
    .map(([by, e, text]) => `${named(e)} in ${named(e.parentElement)} reaches ${Math.round(by)} px out: ${text.slice(0, 40)}`)];
";

fn texts(value: &Value) -> Vec<String> {
    value.as_array().into_iter().flatten().map(|text| text.as_str().unwrap_or_default().to_owned()).collect()
}

impl Driver {
    /// Serious and critical breaches of the accessibility rules in the present page, one text a rule.
    ///
    /// The rules come as a script of the driver, which the page's content policy does not bar.
    #[track_caller]
    pub(crate) fn axe(&self) -> Vec<String> {
        if self.js("return typeof window.axe", &[]) != "object" {
            let script = std::fs::read_to_string(axe_folder().join("axe.min.js")).expect("the accessibility rules are there");
            self.js(&script, &[]);
        }
        let ran = self.js_async(AXE, &[]);
        assert!(ran["error"].is_null(), "the accessibility rules did not run: {}\n{}", ran["error"], self.scene());
        let text = |of: &Value, field: &str| of[field].as_str().unwrap_or_default().replace('\n', " ");
        let told = |f: &Value| {
            let [impact, rule, places, help, says] = ["impact", "rule", "places", "help", "says"].map(|field| text(f, field));
            format!("{impact} {rule} at {places}: {help} ({says})")
        };
        ran["found"].as_array().expect("a list").iter().map(told).collect()
    }

    /// What makes the present page wider than a window of this width: first the widths, then the worst elements; else nothing.
    #[track_caller]
    pub(crate) fn overflows(&self, width: u32) -> Vec<String> {
        self.set_size(width, 900);
        // what scripts do at a change of width is done by the second frame
        self.js_async("const done = arguments[0]; requestAnimationFrame(() => requestAnimationFrame(() => done(null)))", &[]);
        texts(&self.js(WIDE, &[]))
    }

    /// Asserts that the present page needs no sideways scrolling at a width.
    #[track_caller]
    pub(crate) fn overflow(&self, width: u32) {
        let wide = self.overflows(width);
        assert!(wide.is_empty(), "{} at {width}: {wide:#?}", self.url());
    }

    /// Asserts that the present page breaks no serious rule of accessibility.
    #[track_caller]
    pub(crate) fn accessible(&self) {
        let broken = self.axe();
        assert!(broken.is_empty(), "{}: {broken:#?}", self.url());
    }

    /// Asserts that no error was logged since the last time.
    #[track_caller]
    pub(crate) fn quiet(&self) {
        let errors = self.console_errors();
        assert!(errors.is_empty(), "{}: {errors:#?}", self.url());
    }

    /// The address of the present page and of its links within the server, without what stands behind `#`.
    #[track_caller]
    pub(crate) fn links(&self) -> Vec<String> {
        let script = "return [...document.links].map(a => a.href.split('#')[0]).filter(h => h.startsWith(location.origin + '/'))";
        texts(&self.js(script, &[json!(null)]))
    }
}
