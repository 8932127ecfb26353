//! What stands around a picture: read, or left out.

use super::exif_block::{self, Facts};
use super::{Format, jpeg, png, webp};
use tare_diag::Diag;

/// A piece of a file, in order.
pub(super) enum Piece<'a> {
    /// Needed to show the picture: kept byte for byte.
    Needed(&'a [u8]),
    /// An EXIF block, a small TIFF file of its own.
    Exif(&'a [u8]),
    /// XMP or other plain text.
    Xmp(&'a [u8]),
    /// Captions of the press (IPTC-IIM).
    Iptc(&'a [u8]),
    /// Text that is packed or coded and may hold any of the three.
    Unread,
    /// Says that the picture moves.
    Moving,
    /// Anything else.
    Other,
}

/// Why a file cannot be walked to its end.
pub(super) enum Broken {
    /// It ends before the picture does.
    Short,
    /// Its parts do not fit together.
    Shape,
}

impl From<Broken> for Diag {
    fn from(broken: Broken) -> Self {
        let says = match broken {
            Broken::Short => return short(),
            Broken::Shape => "the parts of the file do not fit together",
        };
        damaged(says)
    }
}

fn short() -> Diag {
    Diag::error("photo-short", "the file ends before the picture does").hint("send it again; the transfer was cut off")
}

/// A file that is of a known format but does not read.
pub(super) fn damaged(says: impl Into<String>) -> Diag {
    Diag::error("photo-broken", says).hint("open it in another program and save it as JPEG, or take the photo again")
}

fn walk<'a>(format: Format, bytes: &'a [u8], visit: &mut dyn FnMut(Piece<'a>)) -> Result<(), Diag> {
    let mut moving = false;
    let mut visit = |piece: Piece<'a>| match piece {
        Piece::Moving => moving = true,
        piece => visit(piece),
    };
    match format {
        Format::Jpeg => jpeg::walk(bytes, &mut visit),
        Format::Png => png::walk(bytes, &mut visit),
        Format::WebP => webp::walk(bytes, &mut visit),
    }?;
    if moving {
        return Err(Diag::error("photo-animated", "found an animation, expected a still photo").hint("send a single picture"));
    }
    Ok(())
}

/// What the metadata says. The first EXIF block counts, as in the readers of the browsers.
pub(super) fn read(format: Format, bytes: &[u8]) -> Result<Facts, Diag> {
    let mut facts: Option<Facts> = None;
    let mut elsewhere = false;
    walk(format, bytes, &mut |piece| match piece {
        Piece::Exif(block) => {
            let found = exif_block::read(block);
            elsewhere |= found.location;
            facts.get_or_insert(found);
        }
        Piece::Xmp(text) => elsewhere |= WORDS.iter().any(|word| contains(text, word)),
        Piece::Iptc(content) => elsewhere |= content.windows(3).any(|w| w[..2] == [0x1c, 2] && PLACES.contains(&w[2])),
        Piece::Unread => elsewhere = true,
        Piece::Needed(_) | Piece::Moving | Piece::Other => {}
    })?;
    let facts = facts.unwrap_or_default();
    Ok(Facts { location: elsewhere, ..facts })
}

/// Names that hold a place in XMP: coordinates (ISO 16684-2), and places in words (IPTC Photo Metadata Standard).
const WORDS: [&[u8]; 9] = [
    b"GPSL",
    b"GPSDest",
    b"GPSArea",
    b"LocationCreated",
    b"LocationShown",
    b"Iptc4xmpCore:Location",
    b"photoshop:City",
    b"photoshop:State",
    b"photoshop:Country",
];

/// Data sets of IPTC-IIM record 2 that hold a place: content location, city, sublocation, province, country.
const PLACES: [u8; 7] = [26, 27, 90, 92, 95, 100, 101];

fn contains(text: &[u8], word: &[u8]) -> bool {
    text.windows(word.len()).any(|w| w == word)
}

/// The file with only what is needed to show it, and an EXIF block of the words that tell no place.
pub(super) fn without_location(format: Format, bytes: &[u8]) -> Result<Vec<u8>, Diag> {
    let mut out = Vec::with_capacity(bytes.len());
    let mut first = true;
    let mut has_exif = false;
    walk(format, bytes, &mut |piece| match piece {
        Piece::Needed(bytes) => out.extend_from_slice(bytes),
        Piece::Exif(block) if first => {
            first = false;
            let Some(block) = exif_block::without_location(block) else { return };
            has_exif = true;
            out.extend(match format {
                Format::Jpeg => jpeg::exif(&block),
                Format::Png => png::exif(&block),
                Format::WebP => webp::exif(&block),
            });
        }
        _ => {}
    })?;
    if format == Format::WebP {
        webp::mend_head(&mut out, has_exif);
    }
    Ok(out)
}
