//! The format of a file, by its first bytes.

use tare_diag::Diag;

/// A format of photos that browsers show and this program reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// JPEG.
    Jpeg,
    /// PNG.
    Png,
    /// WebP.
    WebP,
}

/// The first bytes of every PNG.
pub(super) const PNG: &[u8] = b"\x89PNG\r\n\x1a\n";

/// Brands of the files that phones write in place of JPEG (ISO 14496-12, four letters behind `ftyp`).
const PHONE: [&[u8]; 10] = [b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"avif", b"avis"];

/// Other files a person may send by mistake, to name them.
const OTHERS: [(&[u8], &str); 9] = [
    (b"GIF8", "a GIF"),
    (b"II*\0", "a TIFF or raw picture"),
    (b"MM\0*", "a TIFF or raw picture"),
    (b"BM", "a BMP"),
    (b"%PDF", "a PDF"),
    (b"\xff\x0a", "a JPEG XL"),
    (b"\0\0\0\x0cJXL ", "a JPEG XL"),
    (b"<svg", "a drawing"),
    (b"PK\x03\x04", "a zip archive or office file"),
];

impl Format {
    /// The media type, as in the header of an answer.
    pub fn media_type(self) -> &'static str {
        match self {
            Self::Jpeg => "image/jpeg",
            Self::Png => "image/png",
            Self::WebP => "image/webp",
        }
    }

    /// The format of these bytes.
    ///
    /// # Errors
    ///
    /// `photo-kind` if it is none of the three.
    pub fn of(bytes: &[u8]) -> Result<Self, Diag> {
        if bytes.starts_with(b"\xff\xd8\xff") {
            return Ok(Self::Jpeg);
        }
        if bytes.starts_with(PNG) {
            return Ok(Self::Png);
        }
        if bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"WEBP") {
            return Ok(Self::WebP);
        }
        Err(refuse(bytes))
    }
}

/// Says what was found and how to get a photo that is taken.
fn refuse(bytes: &[u8]) -> Diag {
    let due = "expected a JPEG, PNG or WebP";
    if bytes.is_empty() {
        return Diag::error("photo-kind", format!("found an empty file, {due}")).hint("take or choose the photo again");
    }
    if bytes.get(4..8) == Some(b"ftyp") {
        if bytes.get(8..12).is_some_and(|brand| PHONE.contains(&brand)) {
            return Diag::error("photo-kind", format!("found a HEIC or AVIF photo, {due}")).hint(
                "set the phone's camera to JPEG (often called \"most compatible\"), or save the photo as JPEG and send that",
            );
        }
        return Diag::error("photo-kind", format!("found a video, {due}")).hint("take a still photo");
    }
    let found = OTHERS.iter().find(|(start, _)| bytes.starts_with(start)).map_or("another kind of file", |(_, name)| name);
    Diag::error("photo-kind", format!("found {found}, {due}")).hint("save it as JPEG and send that")
}
