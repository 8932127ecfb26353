//! An installed browser of the Chromium family, used to turn pages of our own into PDF and pictures.
//!
//! It gets a profile of its own that is thrown away, no network, no more than [`PATIENCE`], and only files this program has just written.

use crate::files::file_diag;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use tare_diag::{Diag, Place};

/// Names looked for on PATH, in this order.
const NAMES: [&str; 9] = [
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "microsoft-edge",
    "microsoft-edge-stable",
    "msedge",
    "headless_shell",
];
/// Names the browser to use, by name or by path.
pub const VARIABLE: &str = "TARE_BROWSER";
/// How long one page may take.
pub const PATIENCE: Duration = Duration::from_secs(180);
/// How often the browser is looked at while it works.
const LOOK: Duration = Duration::from_millis(15);

/// A browser that was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Browser {
    program: PathBuf,
}

impl Browser {
    /// The browser that [`VARIABLE`] names, else the first of the usual names on PATH.
    ///
    /// # Errors
    /// `browser-missing`: none of them is there, with the package that brings one.
    pub fn find() -> Result<Self, Diag> {
        let asked = std::env::var_os(VARIABLE).filter(|name| !name.is_empty());
        let path = std::env::var_os("PATH").unwrap_or_default();
        let folders: Vec<PathBuf> = std::env::split_paths(&path).collect();
        if let Some(asked) = asked {
            let named = Path::new(&asked);
            let found =
                if named.components().count() > 1 { named.is_file().then(|| named.into()) } else { on_path(&folders, named) };
            return found.map(|program| Self { program }).ok_or_else(|| {
                let says = format!("{VARIABLE} names `{}`, which is no program here", named.display());
                Diag::error("browser-missing", says).at(Place::File(named.display().to_string())).hint(format!(
                    "give the path of a browser of the Chromium family, or unset {VARIABLE} to have one looked for"
                ))
            });
        }
        NAMES.iter().find_map(|name| on_path(&folders, Path::new(name))).map(|program| Self { program }).ok_or_else(missing)
    }

    /// Prints a page of HTML as PDF.
    ///
    /// # Errors
    /// `browser-failed` or `browser-slow`; a message on a file.
    pub fn pdf(&self, html: &str) -> Result<Vec<u8>, Diag> {
        self.made(html, "page.pdf", |out| {
            // headings become the outline that readers of PDF show beside the pages
            vec![
                format!("--print-to-pdf={}", out.display()),
                "--no-pdf-header-footer".into(),
                "--generate-pdf-document-outline".into(),
            ]
        })
    }

    /// Takes a picture of a page of HTML as PNG, `width` by `height` pixels from its upper left corner.
    ///
    /// # Errors
    /// As [`Browser::pdf`].
    pub fn png(&self, html: &str, width: u32, height: u32) -> Result<Vec<u8>, Diag> {
        // some versions take the frame of a window off its height, so that it is asked for larger than what is cut out of it
        self.made(html, "page.png", |out| {
            vec![
                format!("--screenshot={}", out.display()),
                format!("--window-size={width},{}", height + 200),
                "--force-device-scale-factor=1".into(),
                "--hide-scrollbars".into(),
            ]
        })
    }

    fn made(&self, html: &str, name: &str, what: impl Fn(&Path) -> Vec<String>) -> Result<Vec<u8>, Diag> {
        let folder = Private::new()?;
        let (page, out) = (folder.0.join("page.html"), folder.0.join(name));
        std::fs::write(&page, html).map_err(|e| file_diag(&e, &page))?;
        self.run(&folder, &page, &what(&out))?;
        std::fs::read(&out).map_err(|_| {
            let says = format!("{} ended without writing anything{}", self.program.display(), folder.last_words());
            self.diag("browser-failed", says)
        })
    }

    fn run(&self, folder: &Private, page: &Path, what: &[String]) -> Result<(), Diag> {
        let log = std::fs::File::create(folder.0.join("log")).map_err(|e| file_diag(&e, &folder.0))?;
        let mut command = Command::new(&self.program);
        command
            .args(["--headless", "--disable-gpu", "--no-first-run", "--no-default-browser-check", "--disable-extensions"])
            .args(["--disable-background-networking", "--disable-component-update", "--disable-sync", "--no-pings"])
            // our pages ask for nothing; should one, no name leads anywhere
            .arg("--host-resolver-rules=MAP * ~NOTFOUND")
            .arg(format!("--user-data-dir={}", folder.0.join("profile").display()))
            .args(what)
            .arg(address(page))
            // what a browser keeps outside its profile goes where the profile goes
            .env("HOME", &folder.0)
            .env("XDG_CONFIG_HOME", folder.0.join("config"))
            .env("XDG_CACHE_HOME", folder.0.join("cache"))
            .env_remove("DBUS_SESSION_BUS_ADDRESS")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(log);
        if folder.of_root() {
            // Chromium refuses to start as root with its sandbox. What it opens is one file of our own that loads nothing and whose policy
            // forbids it, so that as root, and only then, it runs without.
            command.arg("--no-sandbox");
        }
        let mut child = command
            .spawn()
            .map_err(|e| self.diag("browser-failed", format!("{} does not start ({e})", self.program.display())))?;
        let began = Instant::now();
        loop {
            match child.try_wait() {
                Ok(Some(status)) if status.success() => return Ok(()),
                Ok(Some(status)) => {
                    let says = format!("{} ended with {status}{}", self.program.display(), folder.last_words());
                    return Err(self.diag("browser-failed", says));
                }
                Ok(None) if began.elapsed() > PATIENCE => {
                    let _ = child.kill();
                    let _ = child.wait();
                    let says =
                        format!("{} was still at work after {} s and was stopped", self.program.display(), PATIENCE.as_secs());
                    return Err(self.diag("browser-slow", says).hint("choose fewer sections with `--sections`"));
                }
                Ok(None) => std::thread::sleep(LOOK),
                Err(e) => return Err(self.diag("browser-failed", format!("{} cannot be watched ({e})", self.program.display()))),
            }
        }
    }

    fn diag(&self, code: &'static str, says: String) -> Diag {
        Diag::error(code, says)
            .at(Place::File(self.program.display().to_string()))
            .hint(format!("{VARIABLE} names another browser; or open the HTML file in any browser and print it from there"))
    }
}

fn missing() -> Diag {
    let says = format!("no browser of the Chromium family is on PATH (looked for {})", NAMES.join(", "));
    Diag::error("browser-missing", says)
        .at(Place::File("PATH".to_owned()))
        .hint("install one: Debian and Ubuntu `apt-get install chromium`, Fedora `dnf install chromium`, macOS and Windows: Chrome or Edge")
        .hint(format!("or name one with {VARIABLE}=/path/to/browser; or open the HTML file in any browser and print it from there"))
}

fn on_path(folders: &[PathBuf], name: &Path) -> Option<PathBuf> {
    let ending = std::env::consts::EXE_SUFFIX;
    let file = if ending.is_empty() { name.to_path_buf() } else { PathBuf::from(format!("{}{ending}", name.display())) };
    folders.iter().map(|folder| folder.join(&file)).find(|program| program.is_file())
}

/// The address of a file: what has a meaning in addresses is written by its number.
fn address(file: &Path) -> String {
    let mut out = String::from("file://");
    let text = file.to_string_lossy().replace('\\', "/");
    if !text.starts_with('/') {
        out.push('/');
    }
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"/-_.~:".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

/// A folder that only this user may look into; it goes when it is dropped.
struct Private(PathBuf);

impl Private {
    fn new() -> Result<Self, Diag> {
        let folder = std::env::temp_dir().join(format!("tare-{}", crate::clock::new_id()));
        let mut builder = std::fs::DirBuilder::new();
        #[cfg(unix)]
        std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
        builder.create(&folder).map_err(|e| file_diag(&e, &folder))?;
        Ok(Self(folder))
    }

    /// Whether it, and with it this program, belongs to root.
    fn of_root(&self) -> bool {
        #[cfg(unix)]
        return std::fs::metadata(&self.0).is_ok_and(|found| std::os::unix::fs::MetadataExt::uid(&found) == 0);
        #[cfg(not(unix))]
        false
    }

    /// The last line the browser wrote about itself.
    fn last_words(&self) -> String {
        let log = std::fs::read(self.0.join("log")).unwrap_or_default();
        let text = String::from_utf8_lossy(&log);
        text.lines().rev().find(|line| !line.trim().is_empty()).map_or_else(String::new, |line| format!(": {}", line.trim()))
    }
}

impl Drop for Private {
    fn drop(&mut self) {
        // helpers of the browser may still be writing when it has ended
        for _ in 0..20 {
            if std::fs::remove_dir_all(&self.0).is_ok() || !self.0.exists() {
                return;
            }
            std::thread::sleep(LOOK);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_hold_any_path() {
        assert_eq!(address(Path::new("/a b/c#d?.html")), "file:///a%20b/c%23d%3F.html");
    }

    #[test]
    fn a_private_folder_is_private_and_goes() {
        let folder = Private::new().expect("made");
        let path = folder.0.clone();
        #[cfg(unix)]
        assert_eq!(std::os::unix::fs::MetadataExt::mode(&std::fs::metadata(&path).expect("there")) & 0o777, 0o700);
        std::fs::write(path.join("log"), "one\nlast words\n\n").expect("written");
        assert_eq!(folder.last_words(), ": last words");
        drop(folder);
        assert!(!path.exists());
    }
}
