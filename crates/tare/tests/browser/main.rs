//! The pages in a browser: a strip-down captured, two people at one study, a bad network, ten thousand parts, hostile texts, and what
//! every page must keep.

#[path = "../web/mod.rs"]
mod common;

mod capture;
mod grid;
mod history;
mod holds;
mod hostile;
mod ideas;
mod layout;
mod network;
mod photo;
mod together;
mod whatif;

use common::driver::Driver;
use common::server::{Api, STUDY, Server, run};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// The program.
const TARE: &str = env!("CARGO_BIN_EXE_tare");

/// Every page of a study, by the word in its address; the first is the overview.
const PAGES: [&str; 31] = [
    "",
    "parts",
    "photos",
    "mass",
    "joints",
    "time",
    "cost",
    "tools",
    "findings",
    "holds",
    "rates",
    "quotes",
    "calculations",
    "calculation?key=processes/drilling",
    "boundary",
    "evidence",
    "ranges",
    "todo",
    "ideas",
    "compare",
    "ask?rows=part&when=mass+%3E+0+%5Bkg%5D&show=mass%0D%0Acost",
    "whatif",
    "history",
    "messages",
    "reviews",
    "sources",
    "labels",
    "part?of=P1",
    "reason?line=cost",
    "report",
    "bench",
];

/// A study, its server and a folder for files beside it.
struct Site {
    // before the folder, so that the server is gone when its files go
    server: Server,
    folder: TempDir,
}

impl Site {
    /// A new study with nothing in it but its product.
    fn new() -> Self {
        Self::made(|workspace| {
            run(Path::new(TARE), workspace, &["new", STUDY]);
        })
    }

    /// A server of a workspace that `make` fills.
    fn made(make: impl FnOnce(&Path)) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let workspace = folder.path().join("work");
        make(&workspace);
        Self { server: Server::start(Path::new(TARE), &workspace), folder }
    }

    /// The address of a page of the study.
    fn page(&self, page: &str) -> String {
        self.server.page(&format!("/s/{STUDY}/{page}"))
    }

    /// A picture as a camera would hand over: what the browser shows now.
    fn picture(&self, driver: &Driver, name: &str) -> PathBuf {
        let file = self.folder.path().join(name);
        driver.screenshot(&file);
        file
    }
}

/// The selector of an element by its hook for tests.
fn hook(name: &str) -> String {
    format!("[data-test=\"{name}\"]")
}

/// Waits until the bench says that nothing is left to send.
#[track_caller]
fn wait_saved(driver: &Driver) {
    driver.wait_until("document.querySelector('[data-test=\"unsaved\"]').textContent === 'everything saved'");
}

/// The entries that people made. The program adds some of its own, in its own time, that hold on to texts of the library.
fn entries(api: &mut Api) -> Vec<serde_json::Value> {
    api.rows("history").into_iter().filter(|row| row["author"] != "tare").collect()
}

/// Waits until nothing of the page is still being computed: on a busy machine that takes its time.
#[track_caller]
fn wait_computed(driver: &Driver) {
    for _ in 0..600 {
        if driver.js("return document.querySelector('[data-waits]') === null", &[]) == true {
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(400));
    }
    panic!("{} is still being computed\n{}", driver.url(), driver.scene());
}

/// The parts of that name.
fn named<'a>(parts: &'a [serde_json::Value], name: &str) -> Vec<&'a serde_json::Value> {
    parts.iter().filter(|part| part["name"] == name).collect()
}
