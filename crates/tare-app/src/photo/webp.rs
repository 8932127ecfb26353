//! The chunks of a WebP (RFC 9649, section 2).

use super::metadata::{Broken, Piece};

/// Bits of the first byte of a `VP8X` chunk.
const HAS_EXIF: u8 = 0x08;
const HAS_XMP: u8 = 0x04;

/// Bytes in front of the first chunk: `RIFF`, the length of the rest, `WEBP`.
const HEAD: usize = 12;

/// Goes through the file up to the length it gives itself.
pub(super) fn walk<'a>(bytes: &'a [u8], visit: &mut dyn FnMut(Piece<'a>)) -> Result<(), Broken> {
    let head = bytes.get(..HEAD).ok_or(Broken::Short)?;
    let end = number(&head[4..8]).and_then(|n| n.checked_add(8)).ok_or(Broken::Shape)?;
    let bytes = bytes.get(..end).ok_or(Broken::Short)?;
    visit(Piece::Needed(head));
    let mut at = HEAD;
    while at < end {
        let head = bytes.get(at..at + 8).ok_or(Broken::Shape)?;
        let length = number(&head[4..8]).ok_or(Broken::Shape)?;
        let rest = &bytes[at..];
        let content = rest.get(8..).and_then(|rest| rest.get(..length)).ok_or(Broken::Shape)?;
        // Chunks are filled up to an even length; some writers forget it behind the last.
        let whole = &rest[..(8 + length + length % 2).min(rest.len())];
        at += whole.len();
        visit(match &head[..4] {
            b"VP8X" | b"VP8 " | b"VP8L" | b"ALPH" | b"ICCP" => Piece::Needed(whole),
            // Some writers put the head of the JPEG segment in front.
            b"EXIF" => Piece::Exif(content.strip_prefix(b"Exif\0\0").unwrap_or(content)),
            b"XMP " => Piece::Xmp(content),
            b"ANIM" | b"ANMF" => Piece::Moving,
            _ => Piece::Other,
        });
    }
    Ok(())
}

fn number(four: &[u8]) -> Option<usize> {
    usize::try_from(u32::from_le_bytes(four.try_into().ok()?)).ok()
}

/// An EXIF block as a chunk.
pub(super) fn exif(block: &[u8]) -> Vec<u8> {
    let Ok(length) = u32::try_from(block.len()) else { return Vec::new() };
    let fill: &[u8] = if block.len() % 2 == 1 { &[0] } else { &[] };
    [b"EXIF", &length.to_le_bytes()[..], block, fill].concat()
}

/// Sets the length of the file and what its head says it holds.
pub(super) fn mend_head(file: &mut [u8], has_exif: bool) {
    let length = u32::try_from(file.len().saturating_sub(8)).unwrap_or(u32::MAX);
    if let Some(place) = file.get_mut(4..8) {
        place.copy_from_slice(&length.to_le_bytes());
    }
    if file.get(HEAD..HEAD + 4) == Some(b"VP8X")
        && let Some(flags) = file.get_mut(HEAD + 8)
    {
        *flags = *flags & !(HAS_EXIF | HAS_XMP) | if has_exif { HAS_EXIF } else { 0 };
    }
}
