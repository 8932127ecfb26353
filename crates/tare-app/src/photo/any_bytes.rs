//! Whatever arrives, nothing panics, and no copy tells a place.

use super::samples::*;
use super::*;
use proptest::prelude::*;

/// Everything that takes bytes from outside. What comes out as a copy tells no place.
fn run(bytes: &[u8]) {
    let limits = Limits { bytes: 1 << 20, pixels: 1 << 16 };
    let _ = inspect(bytes, &limits);
    let _ = thumbnail(bytes, 16, &limits);
    if let Ok(copy) = without_location(bytes) {
        let format = Format::of(bytes).unwrap();
        let found = metadata::read(format, &copy).map(|facts| facts.location);
        assert_eq!(found, Ok(false), "{bytes:02x?}");
    }
    let _ = super::exif_block::read(bytes);
    let _ = super::exif_block::without_location(bytes);
}

proptest! {
    #[test]
    fn any_bytes_are_no_panic(start in 0..6_usize, rest in prop::collection::vec(any::<u8>(), 0..300)) {
        let starts: [&[u8]; 6] = [b"", b"\xff\xd8\xff\xe1\0\x20Exif\0\0II*\0\x08\0\0\0", b"\x89PNG\r\n\x1a\n", b"RIFF\xff\0\0\0WEBPVP8X", b"II*\0\x08\0\0\0", b"MM\0*"];
        run(&[starts[start], &rest].concat());
    }

    #[test]
    fn a_photo_with_changed_bytes_is_no_panic(
        kind in 0..3_usize,
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
        early in any::<bool>(),
        end in any::<prop::sample::Index>(),
    ) {
        let mut bytes = MAKERS[kind].1(FULL);
        let reach = if early { 400.min(bytes.len()) } else { bytes.len() };
        for (at, byte) in changes {
            bytes[at.index(reach)] = byte;
        }
        run(&bytes);
        bytes.truncate(end.index(bytes.len()));
        run(&bytes);
    }

    #[test]
    fn a_changed_exif_block_is_no_panic_and_its_copy_reads(
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..20),
        little in any::<bool>(),
    ) {
        let mut bytes = block(Says { little, ..FULL });
        for (at, byte) in changes {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        let before = super::exif_block::read(&bytes);
        if let Some(copy) = super::exif_block::without_location(&bytes) {
            let after = super::exif_block::read(&copy);
            prop_assert_eq!((after.orientation, after.location), (before.orientation, false));
            prop_assert_eq!(after.taken.map(|t| t.local), before.taken.map(|t| t.local));
            prop_assert!(exif::Reader::new().read_raw(copy).is_ok());
        }
    }
}
