use super::samples::*;
use super::*;
use exif::{In, Tag};
use image::{DynamicImage, GenericImageView, ImageDecoder, ImageFormat, Rgba};
use std::io::Cursor;

#[track_caller]
fn picture(bytes: &[u8]) -> Picture {
    inspect(bytes, &Limits::default()).unwrap()
}

#[track_caller]
fn refused(bytes: &[u8]) -> Diag {
    inspect(bytes, &Limits::default()).unwrap_err()
}

/// What another reader finds in the file.
fn fields(bytes: &[u8]) -> exif::Exif {
    exif::Reader::new().read_from_container(&mut Cursor::new(bytes)).unwrap()
}

fn decoded(bytes: &[u8]) -> DynamicImage {
    image::load_from_memory(bytes).unwrap()
}

/// Which corner of a picture has about this colour: (right, bottom).
fn corner(picture: &DynamicImage, colour: image::Rgb<u8>) -> (bool, bool) {
    let (w, h) = picture.dimensions();
    let near = |right: bool, bottom: bool| {
        let Rgba(pixel) = picture.get_pixel(if right { w - 4 } else { 3 }, if bottom { h - 4 } else { 3 });
        pixel.iter().zip(colour.0).all(|(a, b)| a.abs_diff(b) < 40)
    };
    let found: Vec<_> =
        [(false, false), (true, false), (false, true), (true, true)].into_iter().filter(|c| near(c.0, c.1)).collect();
    assert_eq!(found.len(), 1, "{colour:?} in {found:?}");
    found[0]
}

#[test]
fn every_orientation_ends_where_the_standard_says() {
    let (left, right, top, bottom) = (false, true, false, true);
    // Where the first stored corner and the second are seen (CIPA DC-008, tag 0x0112: the sides that row 0 and column 0 are).
    let seen = [
        (1, (left, top), (right, top)),
        (2, (right, top), (left, top)),
        (3, (right, bottom), (left, bottom)),
        (4, (left, bottom), (right, bottom)),
        (5, (left, top), (left, bottom)),
        (6, (right, top), (right, bottom)),
        (7, (right, bottom), (right, top)),
        (8, (left, bottom), (left, top)),
    ];
    for (orientation, first, second) in seen {
        for (format, make) in MAKERS {
            for little in [false, true] {
                let bytes = make(Says { orientation, little, ..Says::default() });
                let found = picture(&bytes);
                assert_eq!((found.format, u16::from(found.orientation)), (format, orientation));
                let size = if orientation < 5 { (WIDE, HIGH) } else { (HIGH, WIDE) };
                assert_eq!((found.width, found.height), size, "{format:?} {orientation}");
                for width in [size.0, size.0 / 2] {
                    let small = decoded(&thumbnail(&bytes, width, &Limits::default()).unwrap());
                    assert_eq!(small.dimensions(), (width, size.1 * width / size.0));
                    assert_eq!((corner(&small, RED), corner(&small, GREEN)), (first, second), "{format:?} {orientation} {width}");
                }
                let copy = without_location(&bytes).unwrap();
                assert_eq!(
                    fields(&copy).get_field(Tag::Orientation, In::PRIMARY).unwrap().value.get_uint(0),
                    Some(orientation.into())
                );
            }
        }
    }
}

#[test]
fn the_copy_tells_no_place_and_shows_the_same() {
    for (format, make) in MAKERS {
        for little in [false, true] {
            let bytes = make(Says { little, ..FULL });
            let before = picture(&bytes);
            assert!(before.location);
            assert!(fields(&bytes).get_field(Tag::GPSLatitude, In::PRIMARY).is_some(), "the sample has a place");
            let copy = without_location(&bytes).unwrap();
            let left = fields(&copy);
            let words: Vec<Tag> = left.fields().map(|f| f.tag).collect();
            assert_eq!(words, [Tag::Make, Tag::Model, Tag::Orientation, Tag::DateTimeOriginal], "{format:?}");
            let text = |tag| left.get_field(tag, In::PRIMARY).unwrap().display_value().to_string();
            assert_eq!((text(Tag::Make), text(Tag::Model)), ("\"Workshop\"".into(), "\"Bench Camera 3\"".into()));
            assert_eq!(text(Tag::DateTimeOriginal), "2026-03-14 09:26:53");
            assert!(!copy.windows(HIDDEN.len()).any(|w| w == HIDDEN.as_bytes()), "{format:?}");
            let taken = before.taken.map(|t| Taken { offset: None, ..t });
            assert_eq!(picture(&copy), Picture { location: false, taken, ..before });
            assert_eq!(decoded(&copy), decoded(&bytes));
            assert_eq!(without_location(&copy).unwrap(), copy, "a copy of the copy is the copy");
        }
    }
}

#[test]
fn the_coded_picture_and_its_colours_are_the_same_to_the_byte() {
    let plain = encoded(&marked(), ImageFormat::Jpeg);
    assert_eq!(without_location(&plain).unwrap(), plain);
    let copy = without_location(&jpeg(FULL)).unwrap();
    assert!(copy.ends_with(&plain[2..]));
    assert!(copy.windows(11).any(|w| w == b"ICC_PROFILE"));
    let plain = encoded(&marked(), ImageFormat::Png);
    assert_eq!(without_location(&plain).unwrap(), plain);
    let copy = without_location(&png(FULL)).unwrap();
    assert!(copy.ends_with(&plain[33..]));
    assert!(copy.windows(4).any(|w| w == b"gAMA"));
    let plain = encoded(&marked(), ImageFormat::WebP);
    assert_eq!(without_location(&plain).unwrap(), plain);
    // The head says EXIF and no XMP, and the length is that of the file.
    let copy = without_location(&webp(FULL)).unwrap();
    assert_eq!((copy[20], u32::from_le_bytes(copy[4..8].try_into().unwrap()) as usize), (0x08, copy.len() - 8));
    let silent = without_location(&webp_with(&plain, &[riff_chunk(b"XMP ", &xmp())], 0x04)).unwrap();
    assert_eq!(silent[20], 0, "nothing is left to say");
}

#[test]
fn a_place_is_noticed_wherever_it_stands() {
    let plain = encoded(&marked(), ImageFormat::Jpeg);
    let none = Says { orientation: 1, ..Says::default() };
    for (_, make) in MAKERS {
        assert!(!picture(&make(none)).location);
    }
    let with = |piece| picture(&jpeg_with(&plain, &[piece])).location;
    assert!(with(segment(0xe1, &[b"http://ns.adobe.com/xap/1.0/\0", &xmp()])));
    assert!(!with(segment(0xe1, &[b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta xmp:Rating=\"3\"/>"])));
    assert!(with(segment(0xed, &[b"Photoshop 3.0\x008BIM\x04\x04\0\0\0\0\0\x0a\x1c\x02\x5a\0\x05Delft"])));
    assert!(with(segment(0xe1, &[b"Exif\0\0", &block(FULL)])));
    let plain = encoded(&marked(), ImageFormat::Png);
    let with = |piece| picture(&png_with(&plain, &[piece])).location;
    assert!(with(png_chunk(b"zTXt", b"Raw profile type exif\0\0packed")), "it cannot be ruled out");
    assert!(!with(png_chunk(b"tEXt", b"Comment\0lid from above")));
}

#[test]
fn the_time_is_the_cameras_and_no_time_is_none() {
    let taken =
        |time, offset| picture(&jpeg(Says { orientation: 1, time, offset, ..Says::default() })).taken.map(|t| t.to_string());
    assert_eq!(taken(Some("2026:03:14 09:26:53"), None).as_deref(), Some("2026-03-14T09:26:53"));
    assert_eq!(taken(Some("2026:03:14 09:26:53"), Some("-09:30")).as_deref(), Some("2026-03-14T09:26:53-09:30"));
    assert_eq!(taken(Some("2026:03:14 09:26:53"), Some("   :  ")).as_deref(), Some("2026-03-14T09:26:53"));
    for none in [None, Some("0000:00:00 00:00:00"), Some("    :  :     :  :  "), Some("2026:02:30 09:26:53"), Some("2026")] {
        assert_eq!(taken(none, Some("+01:00")), None, "{none:?}");
    }
}

#[test]
fn other_files_are_named_and_the_way_out_is_told() {
    let heic = refused(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic");
    assert_eq!((heic.code, heic.message.as_str()), ("photo-kind", "found a HEIC or AVIF photo, expected a JPEG, PNG or WebP"));
    assert!(heic.hints[0].contains("set the phone's camera to JPEG"), "{:?}", heic.hints);
    assert_eq!(refused(b"\0\0\0\x1cftypavif\0\0\0\0").message, heic.message);
    for (bytes, found) in [
        (&b""[..], "found an empty file"),
        (b"\0\0\0\x18ftypmp42\0\0\0\0", "found a video"),
        (b"GIF89a\x01\0\x01\0", "found a GIF"),
        (b"%PDF-1.7", "found a PDF"),
        (b"<html>", "found another kind of file"),
        (b"RIFF\0\0\0\0WAVE", "found another kind of file"),
        (b"\xff\xd8", "found another kind of file"),
    ] {
        let diag = refused(bytes);
        assert_eq!(diag.code, "photo-kind");
        assert!(diag.message.starts_with(found) && !diag.hints.is_empty(), "{diag}");
        assert_eq!(thumbnail(bytes, 9, &Limits::default()).unwrap_err(), diag);
        assert_eq!(without_location(bytes).unwrap_err(), diag);
    }
}

#[test]
fn a_file_cut_off_anywhere_is_refused() {
    for (_, make) in MAKERS {
        let bytes = make(Says { orientation: 6, ..Says::default() });
        for end in 12..bytes.len() {
            let code = refused(&bytes[..end]).code;
            assert_eq!(code, "photo-short", "{end} of {}", bytes.len());
            assert!(without_location(&bytes[..end]).is_err());
        }
    }
}

#[test]
fn the_limits_hold_before_anything_is_decoded() {
    let bytes = jpeg(FULL);
    let pixels = u64::from(WIDE * HIGH);
    let with = |bytes_most, pixels| inspect(&bytes, &Limits { bytes: bytes_most, pixels });
    assert!(with(bytes.len(), pixels).is_ok());
    assert_eq!(with(bytes.len() - 1, pixels).unwrap_err().code, "photo-bytes");
    assert_eq!(with(bytes.len(), pixels - 1).unwrap_err().code, "photo-pixels");
    assert_eq!(thumbnail(&bytes, 9, &Limits { pixels: pixels - 1, ..Limits::default() }).unwrap_err().code, "photo-pixels");
}

#[test]
fn a_small_file_of_a_huge_picture_is_refused() {
    let side = 30_000_u32.to_be_bytes();
    let mut png = encoded(&marked(), ImageFormat::Png);
    png[16..24].copy_from_slice(&[side, side].concat());
    let sum = super::png::checksum(&png[12..29]).to_be_bytes();
    png[29..33].copy_from_slice(&sum);
    let mut jpeg = encoded(&marked(), ImageFormat::Jpeg);
    let frame = jpeg.windows(2).position(|w| w == [0xff, 0xc0]).unwrap();
    jpeg[frame + 5..frame + 9].copy_from_slice(&[&side[2..], &side[2..]].concat());
    let mut webp = webp(Says { orientation: 1, ..Says::default() });
    webp[24..30].copy_from_slice(&[0x2f, 0x75, 0, 0x2f, 0x75, 0]);
    for bytes in [png, jpeg, webp] {
        let diag = refused(&bytes);
        assert_eq!(diag.code, "photo-pixels");
        assert_eq!(diag.message, "the picture is 30000 x 30000 pixels, at most 64 million are taken");
        assert_eq!(thumbnail(&bytes, 320, &Limits::default()).unwrap_err(), diag);
    }
}

#[test]
fn a_thumbnail_never_grows_and_says_nothing() {
    for (_, make) in MAKERS {
        let bytes = make(FULL);
        for (width, size) in [(1000, (32, 48)), (16, (16, 24)), (1, (1, 2)), (0, (1, 2))] {
            let small = thumbnail(&bytes, width, &Limits::default()).unwrap();
            assert_eq!(decoded(&small).dimensions(), size);
            assert!(exif::Reader::new().read_from_container(&mut Cursor::new(&small)).is_err());
            // Behind the start mark stands the frame every JPEG begins with (APP0) and then no other application's segment.
            assert_eq!(small[..4], [0xff, 0xd8, 0xff, 0xe0]);
            let tables = &small[4 + usize::from(u16::from_be_bytes([small[4], small[5]]))..];
            assert!([0xdb, 0xc0].contains(&tables[1]), "{:x?}", &tables[..2]);
            let mut decoder = image::codecs::jpeg::JpegDecoder::new(Cursor::new(&small)).unwrap();
            assert!(decoder.exif_metadata().unwrap().is_none() && decoder.icc_profile().unwrap().is_none());
        }
    }
}

#[test]
fn what_is_see_through_becomes_white() {
    let clear = image::RgbaImage::from_fn(32, 16, |x, _| if x < 16 { Rgba([0, 0, 0, 0]) } else { Rgba([0, 0, 0, 255]) });
    let small = decoded(&thumbnail(&encoded(&clear.into(), ImageFormat::Png), 32, &Limits::default()).unwrap());
    assert!(small.get_pixel(3, 3).0[0] > 250 && small.get_pixel(28, 3).0[0] < 5);
}

#[test]
fn an_animation_is_refused() {
    let moving = png_with(&encoded(&marked(), ImageFormat::Png), &[png_chunk(b"acTL", &[0, 0, 0, 2, 0, 0, 0, 0])]);
    assert_eq!((refused(&moving).code, without_location(&moving).unwrap_err().code), ("photo-animated", "photo-animated"));
    let moving = webp_with(&encoded(&marked(), ImageFormat::WebP), &[riff_chunk(b"ANMF", HIDDEN.as_bytes())], 0x02);
    assert_eq!((refused(&moving).code, without_location(&moving).unwrap_err().code), ("photo-animated", "photo-animated"));
}

#[test]
fn a_text_that_reaches_beyond_its_end_takes_nothing_along() {
    for little in [false, true] {
        let mut bytes = block(Says { little, ..FULL });
        let before = without_location(&segment_of(&bytes)).unwrap();
        // The entry of the maker's name: tag, type, count. The count grows over everything that follows the name.
        let head: &[u8] = if little { &[0x0f, 0x01, 2, 0] } else { &[0x01, 0x0f, 0, 2] };
        let at = bytes.windows(4).position(|w| w == head).unwrap() + 4;
        bytes[at..at + 4].copy_from_slice(&if little { 90_u32.to_le_bytes() } else { 90_u32.to_be_bytes() });
        assert_eq!(without_location(&segment_of(&bytes)).unwrap(), before);
    }
}

fn segment_of(block: &[u8]) -> Vec<u8> {
    jpeg_with(&encoded(&marked(), ImageFormat::Jpeg), &[segment(0xe1, &[b"Exif\0\0", block])])
}

#[test]
fn a_block_without_pointers_has_no_place_by_chance() {
    // Read from offset 0, the head would be a block of 18,761 entries, one of which is a latitude here.
    let mut block = b"II*\0\x20\0\0\0".to_vec();
    block.resize(14, 0);
    block.extend([2, 0, 1, 0, 1, 0, 0, 0]);
    block.resize(48, 0);
    assert!(!exif_block::read(&block).location);
}
