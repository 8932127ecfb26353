//! The segments of a JPEG (ITU-T T.81, annex B).

use super::metadata::{Broken, Piece};

const EXIF: &[u8] = b"Exif\0\0";

/// Goes through the file up to the end of the picture; what follows that is not part of it.
pub(super) fn walk<'a>(bytes: &'a [u8], visit: &mut dyn FnMut(Piece<'a>)) -> Result<(), Broken> {
    visit(Piece::Needed(bytes.get(..2).ok_or(Broken::Short)?));
    let mut at = 2;
    loop {
        // Readers pass over strange bytes between segments, so this one does too, but it does not keep them.
        at += bytes.get(at..).and_then(|rest| rest.iter().position(|b| *b == 0xff)).ok_or(Broken::Short)?;
        let start = at;
        while bytes.get(at + 1) == Some(&0xff) {
            at += 1;
        }
        let marker = *bytes.get(at + 1).ok_or(Broken::Short)?;
        at += 2;
        match marker {
            0xd9 => {
                visit(Piece::Needed(&bytes[start..at]));
                return Ok(());
            }
            0x00 => continue,
            // Markers without content.
            0x01 | 0xd0..=0xd8 => {
                visit(Piece::Needed(&bytes[start..at]));
                continue;
            }
            _ => {}
        }
        let length = bytes.get(at..at + 2).map(|l| usize::from(u16::from_be_bytes([l[0], l[1]]))).ok_or(Broken::Short)?;
        if length < 2 {
            return Err(Broken::Shape);
        }
        let content = bytes.get(at + 2..at + length).ok_or(Broken::Short)?;
        at += length;
        if marker == 0xda {
            at = end_of_scan(bytes, at)?;
        }
        visit(piece(marker, &bytes[start..at], content));
    }
}

/// Where the coded rows behind a scan header end: at the first marker that is neither a restart nor a stuffed byte.
fn end_of_scan(bytes: &[u8], mut at: usize) -> Result<usize, Broken> {
    loop {
        at += bytes.get(at..).and_then(|rest| rest.iter().position(|b| *b == 0xff)).ok_or(Broken::Short)?;
        match bytes.get(at + 1).ok_or(Broken::Short)? {
            0x00 | 0xd0..=0xd7 => at += 2,
            0xff => at += 1,
            _ => return Ok(at),
        }
    }
}

fn piece<'a>(marker: u8, whole: &'a [u8], content: &'a [u8]) -> Piece<'a> {
    match marker {
        // The frame that programs expect first; an extension of it (`JFXX`) is only a small preview.
        0xe0 if content.starts_with(b"JFIF\0") => Piece::Needed(whole),
        0xe1 if content.starts_with(EXIF) => Piece::Exif(&content[EXIF.len()..]),
        0xe1 => Piece::Xmp(content),
        0xe2 if content.starts_with(b"ICC_PROFILE\0") => Piece::Needed(whole),
        0xed => Piece::Iptc(content),
        // How the three channels are to be read.
        0xee if content.starts_with(b"Adobe") => Piece::Needed(whole),
        // Every other application's segment, and comments.
        0xe0..=0xef | 0xfe => Piece::Other,
        _ => Piece::Needed(whole),
    }
}

/// An EXIF block as a segment; nothing if it does not fit one.
pub(super) fn exif(block: &[u8]) -> Vec<u8> {
    let Ok(length) = u16::try_from(2 + EXIF.len() + block.len()) else { return Vec::new() };
    [&[0xff, 0xe1], &length.to_be_bytes()[..], EXIF, block].concat()
}
