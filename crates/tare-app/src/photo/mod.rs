//! Photos as they come from a phone: what they are, how they are shown, what they must not tell.
//!
//! [`inspect`] looks at an upload before it is kept, [`thumbnail()`] makes a small picture for a page, [`without_location`]
//! makes the copy that leaves the house. The bytes that came in are kept as they are; none of these functions alters them.
//!
//! A photo is JPEG, PNG or WebP. The files are walked with readers of our own, since the writer must know for every byte
//! why it stays; the picture itself is decoded by the `image` crate, and only for a thumbnail.

mod exif_block;
mod format;
mod jpeg;
mod metadata;
mod png;
mod thumbnail;
mod webp;

#[cfg(test)]
mod any_bytes;
#[cfg(test)]
mod samples;
#[cfg(test)]
mod tests;

pub use format::Format;
pub use thumbnail::thumbnail;

use std::fmt;
use tare_diag::Diag;

/// What is still taken, checked before anything is decoded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Most bytes of a file.
    pub bytes: usize,
    /// Most pixels, width times height; decoding takes four bytes for each.
    pub pixels: u64,
}

impl Default for Limits {
    /// 40 MB and 64 million pixels: the largest ordinary setting of a phone is about 50 million.
    fn default() -> Self {
        Self { bytes: 40_000_000, pixels: 64_000_000 }
    }
}

/// What a photo says of itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Picture {
    /// The format, by its content.
    pub format: Format,
    /// Width as shown, in pixels: after turning by the orientation.
    pub width: u32,
    /// Height as shown, in pixels.
    pub height: u32,
    /// How the stored rows are turned for showing, 1 to 8 as in EXIF (CIPA DC-008, tag 0x0112); 1 where nothing is said.
    pub orientation: u8,
    /// When it was taken, where the EXIF says so.
    pub taken: Option<Taken>,
    /// Whether the metadata says where it was taken, or is packed in a way that this cannot be ruled out.
    ///
    /// Blocks only the maker of the camera can read (maker notes) are not looked into; [`without_location`] drops them.
    pub location: bool,
}

/// When a photo was taken, by the clock of the camera.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Taken {
    /// What the clock showed.
    pub local: jiff::civil::DateTime,
    /// Its offset from universal time, which many cameras do not know.
    pub offset: Option<jiff::tz::Offset>,
}

impl fmt::Display for Taken {
    /// ISO 8601 to the second, the offset where there is one: `2026-03-14T09:26:53+01:00`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.local.strftime("%Y-%m-%dT%H:%M:%S"))?;
        let Some(offset) = self.offset else { return Ok(()) };
        let (sign, minutes) = (if offset.seconds() < 0 { '-' } else { '+' }, offset.seconds().abs() / 60);
        write!(f, "{sign}{:02}:{:02}", minutes / 60, minutes % 60)
    }
}

/// Looks at an upload without decoding it.
///
/// # Errors
///
/// `photo-kind` if it is no JPEG, PNG or WebP; `photo-bytes` and `photo-pixels` if it is beyond the limits; `photo-short` if
/// it ends too early; `photo-broken` if it does not read; `photo-animated` if it moves.
pub fn inspect(bytes: &[u8], limits: &Limits) -> Result<Picture, Diag> {
    if bytes.len() > limits.bytes {
        let says = format!("the file has {}, at most {} are taken", megabytes(bytes.len()), megabytes(limits.bytes));
        return Err(Diag::error("photo-bytes", says).hint("set the camera to a smaller picture"));
    }
    let format = Format::of(bytes)?;
    let facts = metadata::read(format, bytes)?;
    let (width, height) = thumbnail::size(format, bytes, limits)?;
    // From 5 on, the stored rows are shown as columns.
    let (width, height) = if facts.orientation >= 5 { (height, width) } else { (width, height) };
    let (orientation, taken, location) = (facts.orientation, facts.taken, facts.location);
    Ok(Picture { format, width, height, orientation, taken, location })
}

/// A copy of the photo that does not say where it was taken; the coded picture is the same to the byte.
///
/// What stays is listed, not what goes: the parts that are needed to show the picture as before (colour profile included),
/// and of the EXIF the orientation, the date and the words on camera and exposure. The GPS block, XMP, captions, maker notes,
/// serial numbers, the offset of the clock, embedded previews and whatever follows the end of the picture are left out.
///
/// # Errors
///
/// `photo-kind`, `photo-short`, `photo-broken` and `photo-animated` as [`inspect`]: what does not read has no copy to give away.
pub fn without_location(bytes: &[u8]) -> Result<Vec<u8>, Diag> {
    metadata::without_location(Format::of(bytes)?, bytes)
}

/// A picture that says where it was taken, and the word that its place is.
#[cfg(test)]
pub(crate) fn sample_with_place() -> (Vec<u8>, &'static str) {
    (samples::jpeg(samples::FULL), samples::HIDDEN)
}

fn megabytes(bytes: usize) -> String {
    let tenths = bytes.div_ceil(100_000);
    format!("{}.{} MB", tenths / 10, tenths % 10)
}
