//! Photos made for the tests. Their EXIF is written by another crate than the one under test.

use super::{Format, png};
use exif::experimental::Writer;
use exif::{Field, In, Rational, Tag, Value};
use image::{DynamicImage, ImageFormat, Rgb, RgbImage};
use std::io::Cursor;

/// A word that stands wherever a place can hide, so that one search finds it.
pub(super) const HIDDEN: &str = "Haberdasher Lane";

/// The maker of a sample for each format.
pub(super) const MAKERS: [(Format, Maker); 3] = [(Format::Jpeg, jpeg), (Format::Png, png), (Format::WebP, webp)];
type Maker = fn(Says) -> Vec<u8>;

/// A sample that says all it can.
pub(super) const FULL: Says =
    Says { orientation: 6, place: true, time: Some("2026:03:14 09:26:53"), offset: Some("+01:00"), little: true };

pub(super) const RED: Rgb<u8> = Rgb([220, 20, 20]);
pub(super) const GREEN: Rgb<u8> = Rgb([20, 200, 20]);
pub(super) const WIDE: u32 = 48;
pub(super) const HIGH: u32 = 32;

/// A grey picture, its first stored corner (top left) red, the second (top right) green. The marks fill whole JPEG blocks.
pub(super) fn marked() -> DynamicImage {
    let mark = |x, y| match (x < 16, x >= WIDE - 16, y < 16) {
        (true, _, true) => RED,
        (_, true, true) => GREEN,
        _ => Rgb([120, 120, 120]),
    };
    RgbImage::from_fn(WIDE, HIGH, mark).into()
}

pub(super) fn encoded(picture: &DynamicImage, format: ImageFormat) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    picture.write_to(&mut out, format).unwrap();
    out.into_inner()
}

/// What an EXIF block of a sample holds besides its orientation.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Says {
    pub(super) orientation: u16,
    pub(super) place: bool,
    pub(super) time: Option<&'static str>,
    pub(super) offset: Option<&'static str>,
    pub(super) little: bool,
}

pub(super) fn ascii(text: &str) -> Value {
    Value::Ascii(vec![text.as_bytes().to_vec()])
}

/// An EXIF block.
pub(super) fn block(says: Says) -> Vec<u8> {
    let degrees = |d, m, s| Value::Rational([d, m, s].map(|num| Rational { num, denom: 1 }).to_vec());
    // Two long texts, the first of odd length with its end mark: values stand at even offsets.
    let mut all = vec![
        (Tag::Make, ascii("Workshop")),
        (Tag::Model, ascii("Bench Camera 3")),
        (Tag::Orientation, Value::Short(vec![says.orientation])),
    ];
    all.extend(says.time.map(|t| (Tag::DateTimeOriginal, ascii(t))));
    all.extend(says.offset.map(|t| (Tag::OffsetTimeOriginal, ascii(t))));
    if says.place {
        all.extend([
            (Tag::ImageDescription, ascii(HIDDEN)),
            (Tag::MakerNote, Value::Undefined(HIDDEN.into(), 0)),
            (Tag::UserComment, Value::Undefined(HIDDEN.into(), 0)),
            (Tag::GPSLatitudeRef, ascii("N")),
            (Tag::GPSLatitude, degrees(48, 12, 30)),
            (Tag::GPSLongitudeRef, ascii("E")),
            (Tag::GPSLongitude, degrees(16, 22, 19)),
            (Tag::GPSAreaInformation, Value::Undefined(HIDDEN.into(), 0)),
        ]);
    }
    let fields: Vec<Field> = all.into_iter().map(|(tag, value)| Field { tag, ifd_num: In::PRIMARY, value }).collect();
    let mut writer = Writer::new();
    fields.iter().for_each(|f| writer.push_field(f));
    let mut out = Cursor::new(Vec::new());
    writer.write(&mut out, says.little).unwrap();
    out.into_inner()
}

pub(super) fn segment(marker: u8, content: &[&[u8]]) -> Vec<u8> {
    let content = content.concat();
    let length = u16::try_from(content.len() + 2).unwrap().to_be_bytes();
    [&[0xff, marker], &length[..], &content].concat()
}

pub(super) fn png_chunk(name: &[u8], content: &[u8]) -> Vec<u8> {
    let covered = [name, content].concat();
    let length = u32::try_from(content.len()).unwrap().to_be_bytes();
    [&length[..], &covered, &png::checksum(&covered).to_be_bytes()].concat()
}

pub(super) fn riff_chunk(name: &[u8], content: &[u8]) -> Vec<u8> {
    let length = u32::try_from(content.len()).unwrap().to_le_bytes();
    [name, &length[..], content, &vec![0; content.len() % 2]].concat()
}

/// Puts pieces behind the start mark of a JPEG.
pub(super) fn jpeg_with(jpeg: &[u8], pieces: &[Vec<u8>]) -> Vec<u8> {
    [&jpeg[..2], &pieces.concat(), &jpeg[2..]].concat()
}

/// Puts chunks behind the head of a PNG.
pub(super) fn png_with(png: &[u8], chunks: &[Vec<u8>]) -> Vec<u8> {
    [&png[..33], &chunks.concat(), &png[33..]].concat()
}

/// Puts chunks behind the picture of a simple WebP and gives it the head this takes.
pub(super) fn webp_with(webp: &[u8], chunks: &[Vec<u8>], flags: u8) -> Vec<u8> {
    let side = |n: u32| (n - 1).to_le_bytes();
    let head = [&[flags, 0, 0, 0][..], &side(WIDE)[..3], &side(HIGH)[..3]].concat();
    let body = [b"WEBP".to_vec(), riff_chunk(b"VP8X", &head), webp[12..].to_vec(), chunks.concat()].concat();
    [b"RIFF", &u32::try_from(body.len()).unwrap().to_le_bytes()[..], &body].concat()
}

const XMP: &str = "<x:xmpmeta><rdf:Description exif:GPSLatitude=\"48,12.5N\" photoshop:City=\"";

pub(super) fn xmp() -> Vec<u8> {
    format!("{XMP}{HIDDEN}\"/></x:xmpmeta>").into_bytes()
}

/// A JPEG that tells its place wherever the format lets it, if `says` has one.
pub(super) fn jpeg(says: Says) -> Vec<u8> {
    let plain = encoded(&marked(), ImageFormat::Jpeg);
    let mut pieces = vec![segment(0xe1, &[b"Exif\0\0", &block(says)])];
    let mut tail = Vec::new();
    if says.place {
        pieces.extend([
            segment(0xe1, &[b"http://ns.adobe.com/xap/1.0/\0", &xmp()]),
            segment(0xe1, &[b"Exif\0\0", &block(says)]),
            segment(0xed, &[b"Photoshop 3.0\x008BIM\x04\x04\0\0\0\0\0\x15\x1c\x02\x5a\0\x10", HIDDEN.as_bytes(), b"\0"]),
            segment(0xe2, &[b"MPF\0", HIDDEN.as_bytes()]),
            segment(0xe2, &[b"ICC_PROFILE\0\x01\x01", b"colours"]),
            segment(0xfe, &[HIDDEN.as_bytes()]),
        ]);
        tail = HIDDEN.into();
    }
    [jpeg_with(&plain, &pieces), tail].concat()
}

/// As [`jpeg`].
pub(super) fn png(says: Says) -> Vec<u8> {
    let plain = encoded(&marked(), ImageFormat::Png);
    let mut chunks = vec![png_chunk(b"eXIf", &block(says))];
    let mut tail = Vec::new();
    if says.place {
        chunks.extend([
            png_chunk(b"iTXt", &[b"XML:com.adobe.xmp\0\0\0\0\0", &xmp()[..]].concat()),
            png_chunk(b"tEXt", format!("Comment\0{HIDDEN}").as_bytes()),
            png_chunk(b"gAMA", &45455_u32.to_be_bytes()),
            png_chunk(b"prVt", HIDDEN.as_bytes()),
        ]);
        tail = HIDDEN.into();
    }
    [png_with(&plain, &chunks), tail].concat()
}

/// As [`jpeg`].
pub(super) fn webp(says: Says) -> Vec<u8> {
    let plain = encoded(&marked(), ImageFormat::WebP);
    let mut chunks = vec![riff_chunk(b"EXIF", &block(says))];
    if says.place {
        chunks.extend([riff_chunk(b"XMP ", &xmp()), riff_chunk(b"priv", HIDDEN.as_bytes())]);
        return [webp_with(&plain, &chunks, 0x0c), HIDDEN.into()].concat();
    }
    webp_with(&plain, &chunks, 0x08)
}
