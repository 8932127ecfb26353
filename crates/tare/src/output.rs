//! The only place that prints: results on standard output, messages on standard error.

use std::collections::BTreeMap;
use std::io::{IsTerminal, Write};
use tare_app::view::problem_rows;
use tare_diag::{Diag, Severity, render};

/// Messages of one kind beyond this number are only counted.
const MANY: usize = 40;

/// Where results and messages go, and in which form.
pub(crate) struct Output {
    /// Results as JSON.
    pub(crate) json: bool,
    /// Columns of the terminal.
    pub(crate) width: usize,
    bold: bool,
    colour: bool,
    texts: BTreeMap<String, String>,
}

impl Output {
    pub(crate) fn new(json: bool) -> Self {
        let plain = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
        let width = std::env::var("COLUMNS").ok().and_then(|c| c.parse().ok()).filter(|w| *w >= 40).unwrap_or(80);
        let bold = !plain && std::io::stdout().is_terminal();
        Self { json, width, bold, colour: !plain && std::io::stderr().is_terminal(), texts: BTreeMap::new() }
    }

    /// Makes a text known, so that messages can show its lines.
    pub(crate) fn knows(&mut self, name: &str, text: &str) {
        self.texts.insert(name.to_owned(), text.to_owned());
    }

    /// Prints a line of a result.
    pub(crate) fn line(&self, text: impl AsRef<str>) {
        put(&mut std::io::stdout().lock(), text.as_ref());
    }

    /// Prints a heading.
    /// Shows what was printed so far, for those who wait for it at the other end of a pipe.
    pub(crate) fn flush(&self) {
        // whoever closed the pipe reads no more
        let _ = std::io::Write::flush(&mut std::io::stdout());
    }

    pub(crate) fn heading(&self, text: &str) {
        self.line("");
        self.line(if self.bold { format!("\u{1b}[1m{text}\u{1b}[0m") } else { text.to_owned() });
    }

    /// Prints text wrapped to the width, further lines indented.
    pub(crate) fn wrapped(&self, first: &str, text: &str) {
        for line in crate::width::wrap(text, first, self.width) {
            self.line(line);
        }
    }

    /// Prints a result as JSON.
    pub(crate) fn json(&self, value: &serde_json::Value) {
        let text = serde_json::to_string_pretty(value).unwrap_or_else(|e| format!("{{\"error\":\"{e}\"}}"));
        self.line(text);
    }

    /// Prints messages on standard error.
    pub(crate) fn messages(&self, problems: &[Diag]) {
        let mut out = std::io::stderr().lock();
        for severity in [Severity::Error, Severity::Warning, Severity::Note] {
            let of: Vec<&Diag> = problems.iter().filter(|d| d.severity == severity).collect();
            for diag in of.iter().take(MANY) {
                let text = render(diag, |file| self.texts.get(file).map(String::as_str));
                put(&mut out, self.painted(severity, text.trim_end()).as_str());
            }
            if of.len() > MANY {
                put(&mut out, &format!("... and {} more {}s; `--json` lists them all", of.len() - MANY, severity.word()));
            }
        }
    }

    /// Prints every error, and of warnings of one kind the first with how many more there are: a study may live with them for months.
    pub(crate) fn by_kind(&self, problems: &[Diag]) {
        let mut shown: Vec<Diag> = problems.iter().filter(|d| d.is_error()).cloned().collect();
        let warnings: Vec<&Diag> = problems.iter().filter(|d| d.severity == Severity::Warning).collect();
        for (at, warning) in warnings.iter().enumerate() {
            if warnings[..at].iter().any(|before| before.code == warning.code) {
                continue;
            }
            let more = warnings[at + 1..].iter().filter(|other| other.code == warning.code).count();
            let mut first = (*warning).clone();
            if more > 0 {
                first = first.hint(format!("{more} more of this kind: `--json` and the report list them"));
            }
            shown.push(first);
        }
        self.messages(&shown);
    }

    /// Prints the first message and how many more there are: what is wrong in an own library is not repeated by every command.
    pub(crate) fn briefly(&self, problems: &[Diag], where_all: &str) {
        let Some(first) = problems.iter().find(|d| d.is_error()).or(problems.first()) else { return };
        self.messages(std::slice::from_ref(first));
        if problems.len() > 1 {
            put(&mut std::io::stderr().lock(), &format!("... and {} more in this library; {where_all}", problems.len() - 1));
        }
    }

    /// Reports that nothing came of a command.
    pub(crate) fn fail(&self, problems: &[Diag]) {
        if self.json {
            self.json(&serde_json::json!({ "ok": false, "problems": problem_rows(problems) }));
        }
        self.messages(problems);
    }

    fn painted(&self, severity: Severity, text: &str) -> String {
        let code = match severity {
            Severity::Error => 31,
            Severity::Warning => 33,
            Severity::Note => 36,
        };
        match text.split_once(':') {
            Some((head, rest)) if self.colour => format!("\u{1b}[1;{code}m{head}\u{1b}[0m:{rest}"),
            _ => text.to_owned(),
        }
    }
}

/// A closed pipe (`tare parts | head`) ends the program quietly.
fn put(out: &mut impl Write, text: &str) {
    if let Err(error) = writeln!(out, "{text}")
        && error.kind() == std::io::ErrorKind::BrokenPipe
    {
        std::process::exit(0);
    }
}
