//! The chunks of a PNG (W3C, Portable Network Graphics, third edition, section 5).

use super::format::PNG;
use super::metadata::{Broken, Piece};

/// Chunks that have a say in how the picture looks, behind those whose name begins with a capital letter.
const NEEDED: [&[u8]; 13] =
    [b"tRNS", b"cHRM", b"gAMA", b"iCCP", b"sBIT", b"sRGB", b"cICP", b"mDCV", b"cLLI", b"bKGD", b"hIST", b"pHYs", b"sPLT"];

/// Goes through the file up to its end mark.
pub(super) fn walk<'a>(bytes: &'a [u8], visit: &mut dyn FnMut(Piece<'a>)) -> Result<(), Broken> {
    visit(Piece::Needed(bytes.get(..PNG.len()).ok_or(Broken::Short)?));
    let mut at = PNG.len();
    loop {
        let head = bytes.get(at..at + 8).ok_or(Broken::Short)?;
        let length = u32::from_be_bytes([head[0], head[1], head[2], head[3]]);
        let name = &head[4..8];
        // The standard bounds the length at 31 bits, which also keeps the sum below whole on every machine we build for.
        let length = i32::try_from(length).ok().and_then(|l| usize::try_from(l).ok()).ok_or(Broken::Shape)?;
        let whole = bytes.get(at..).and_then(|rest| rest.get(..length.checked_add(12)?)).ok_or(Broken::Short)?;
        let content = &whole[8..8 + length];
        at += whole.len();
        visit(match name {
            b"eXIf" => Piece::Exif(content),
            b"acTL" => Piece::Moving,
            b"iTXt" | b"tEXt" | b"zTXt" => text(name, content),
            _ if name[0].is_ascii_uppercase() || NEEDED.contains(&name) => Piece::Needed(whole),
            _ => Piece::Other,
        });
        if name == b"IEND" {
            return Ok(());
        }
    }
}

fn text<'a>(name: &[u8], content: &'a [u8]) -> Piece<'a> {
    let key = content.split(|b| *b == 0).next().unwrap_or_default();
    // A converter hides whole EXIF and XMP blocks in texts of this name, as digits and often packed.
    let hidden = key.starts_with(b"Raw profile type");
    let packed = name == b"zTXt" || name == b"iTXt" && content.get(key.len() + 1).is_some_and(|flag| *flag != 0);
    if hidden || packed { Piece::Unread } else { Piece::Xmp(content) }
}

/// An EXIF block as a chunk.
pub(super) fn exif(block: &[u8]) -> Vec<u8> {
    let Ok(length) = u32::try_from(block.len()) else { return Vec::new() };
    let covered = [b"eXIf", block].concat();
    [&length.to_be_bytes()[..], &covered, &checksum(&covered).to_be_bytes()].concat()
}

/// The CRC of section 5.5 of the standard, bit by bit: the blocks are a few hundred bytes.
pub(super) fn checksum(bytes: &[u8]) -> u32 {
    let step = |c: u32| if c & 1 == 1 { 0xedb8_8320 ^ (c >> 1) } else { c >> 1 };
    !bytes.iter().fold(u32::MAX, |crc, byte| (0..8).fold(crc ^ u32::from(*byte), |c, _| step(c)))
}
