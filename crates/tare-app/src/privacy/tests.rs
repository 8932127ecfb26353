use super::{Class, Readers};
use crate::create::from_text;
use crate::text_form::TextFile;
use crate::{Document, Field, Kind, Loaded, Session, Workspace};
use tare_store::{Journals, Sha256};

const STUDY: &str = "[study.main]\nname = \"Pump\"\n[photo.board]\nname = \"IMG_2041.jpg\"\ndigest = \"GOOD\"\n\
                     [photo.lid]\nname = \"lid\"\ndigest = \"BROKEN\"\n";

fn digests(document: &Document) -> Vec<Option<String>> {
    document.of_kind(None, Kind::Photo).map(|photo| photo.text(Field::Digest).map(str::to_owned)).collect()
}

/// The copy says nothing of the place; the digest of the stored file, by which places could be tried out, is gone; what cannot be cleaned stays here.
#[test]
fn others_get_copies_of_photos_without_the_place() {
    let folder = tempfile::tempdir().expect("a folder");
    let workspace = Workspace::open_or_create(folder.path()).expect("a workspace");
    let (picture, place) = crate::photo::sample_with_place();
    assert!(picture.windows(place.len()).any(|part| part == place.as_bytes()), "the sample has a place");
    let stored = [picture.as_slice(), b"no picture"].map(|bytes| workspace.store.put_blob(bytes).expect("kept").to_string());
    let text = STUDY.replace("GOOD", &stored[0]).replace("BROKEN", &stored[1]);
    let session = Session::with(workspace).expect("a session");
    let files = [TextFile { name: "pump.toml", text: &text }];
    let created = from_text(&session.workspace, &session.library, "pump", None, &files, "tester").expect("created").remove(0);
    let loaded = |session: &Session| -> Loaded { session.workspace.load(&created.info).expect("loaded") };

    let mut own = session.for_readers(Readers::default());
    let now = loaded(&own);
    let (_, same, told) = own.masked(created.info.clone(), now).expect("not masked");
    assert_eq!((digests(&same.document), told.look.len()), (stored.map(Some).to_vec(), 0));
    let stored = digests(&same.document).into_iter().flatten().collect::<Vec<_>>();
    assert_eq!(own.photo(&stored[0]), Ok(Some(picture)));

    for class in [Class::Client, Class::Open] {
        own = own.for_readers(Readers { class, withhold: false });
        let now = loaded(&own);
        assert!(own.texts(&now.document).is_err(), "what was not masked is not computed");
        let (_, masked, told) = own.masked(created.info.clone(), now).expect("masked");
        let found = digests(&masked.document);
        let copy = found[0].clone().expect("a copy");
        assert_eq!((found[1].as_deref(), stored.contains(&copy)), (None, false));
        assert!(told.look.iter().any(|look| look.contains("a picture is left out")), "{:?}", told.look);
        let bytes = own.photo(&copy).expect("read").expect("there");
        assert_eq!(Sha256::of(&bytes).to_string(), copy);
        assert!(!bytes.windows(place.len()).any(|part| part == place.as_bytes()));
        assert_eq!([&stored[0], &stored[1]].map(|digest| own.photo(digest)), [Ok(None), Ok(None)]);
    }
}

/// docs/privacy.md and docs/tables.md hold the tables that the program works by. With `WRITE_DOCS` set they are written.
#[test]
fn the_pages_are_those_of_the_program() {
    let docs = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs");
    let read = |name: &str| std::fs::read_to_string(format!("{docs}/{name}")).unwrap_or_default();
    let write = std::env::var_os("WRITE_DOCS").is_some();
    let (privacy, tables) = (super::reference(), crate::tables::reference());
    if write {
        let page = read("privacy.md");
        let (start, end) =
            (page.find("| what | client").expect("the table"), page.find("\n\n## Licensed").expect("the end of it"));
        let page = format!("{}{}{}", &page[..start], privacy.trim_end(), &page[end..]);
        std::fs::write(format!("{docs}/privacy.md"), page).expect("written");
        std::fs::write(format!("{docs}/tables.md"), &tables).expect("written");
    }
    assert!(read("privacy.md").contains(privacy.trim_end()), "docs/privacy.md is stale: run this test with WRITE_DOCS=1");
    assert_eq!(read("tables.md"), tables, "docs/tables.md is stale: run this test with WRITE_DOCS=1");
}
