//! Decoding, within limits, for small pictures.

use super::metadata::{self, damaged};
use super::{Format, Limits};
use image::codecs::jpeg::JpegEncoder;
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Rgb, RgbImage};
use std::io::Cursor;
use tare_diag::Diag;

/// Quality of the small pictures, of 100: text on a type plate stays readable, and 320 pixels take about 20 kB.
const QUALITY: u8 = 82;

/// Opens the picture, reads its head and refuses what is beyond the limits; nothing of the picture is decoded yet.
fn open<'a>(format: Format, bytes: &'a [u8], limits: &Limits) -> Result<impl ImageDecoder + 'a, Diag> {
    let format = match format {
        Format::Jpeg => ImageFormat::Jpeg,
        Format::Png => ImageFormat::Png,
        Format::WebP => ImageFormat::WebP,
    };
    let most = limits.pixels.saturating_mul(4);
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    let mut memory = image::Limits::default();
    // Some decoders hold a second copy while they turn colours.
    memory.max_alloc = Some(most.saturating_mul(2));
    reader.limits(memory);
    let decoder = reader.into_decoder().map_err(|error| refuse(&error, limits))?;
    let (width, height) = decoder.dimensions();
    if u64::from(width) * u64::from(height) > limits.pixels || decoder.total_bytes() > most {
        let says = format!("the picture is {width} x {height} pixels, at most {} million are taken", limits.pixels / 1_000_000);
        return Err(too_large(says));
    }
    if width == 0 || height == 0 {
        return Err(damaged("the picture has no pixels"));
    }
    Ok(decoder)
}

/// Width and height as stored, in pixels.
pub(super) fn size(format: Format, bytes: &[u8], limits: &Limits) -> Result<(u32, u32), Diag> {
    open(format, bytes, limits).map(|decoder| decoder.dimensions())
}

/// A small JPEG of a photo for a page, turned as it is to be seen, without any metadata.
///
/// `width` is in pixels, as shown; a photo that is narrower keeps its size. See-through pixels become white. The photo was
/// checked when it was taken in, but a file may have changed since, so the limits count again.
///
/// Decoding a photo takes about four bytes of memory for each pixel: a server bounds how many run at once.
///
/// # Errors
///
/// As [`inspect`](super::inspect), and `photo-broken` if the picture itself does not decode.
pub fn thumbnail(bytes: &[u8], width: u32, limits: &Limits) -> Result<Vec<u8>, Diag> {
    let format = Format::of(bytes)?;
    let orientation = metadata::read(format, bytes)?.orientation;
    let picture = DynamicImage::from_decoder(open(format, bytes, limits)?).map_err(|error| refuse(&error, limits))?;
    // Turning the small picture is cheaper than turning the large one, so the width is that of the stored side.
    let (across, down) = if orientation >= 5 { (picture.height(), picture.width()) } else { (picture.width(), picture.height()) };
    let mut picture = picture;
    if width < across {
        let wide = width.max(1);
        let high = (u64::from(down) * u64::from(wide) + u64::from(across) / 2) / u64::from(across);
        let high = u32::try_from(high).unwrap_or(u32::MAX).max(1);
        picture = if orientation >= 5 { picture.thumbnail_exact(high, wide) } else { picture.thumbnail_exact(wide, high) };
    }
    picture.apply_orientation(Orientation::from_exif(orientation).unwrap_or(Orientation::NoTransforms));
    let mut out = Vec::new();
    let written = JpegEncoder::new_with_quality(&mut out, QUALITY).encode_image(&on_white(&picture));
    written.map_err(|error| refuse(&error, limits))?;
    Ok(out)
}

/// JPEG knows no see-through pixels; a drawing with them is meant for white paper.
fn on_white(picture: &DynamicImage) -> RgbImage {
    if !picture.color().has_alpha() {
        return picture.to_rgb8();
    }
    let picture = picture.to_rgba8();
    let mut out = RgbImage::new(picture.width(), picture.height());
    for (to, from) in out.pixels_mut().zip(picture.pixels()) {
        let [r, g, b, a] = from.0.map(u16::from);
        let mix = |c: u16| u8::try_from((c * a + 255 * (255 - a) + 127) / 255).unwrap_or(u8::MAX);
        *to = Rgb([mix(r), mix(g), mix(b)]);
    }
    out
}

fn too_large(says: String) -> Diag {
    Diag::error("photo-pixels", says).hint("set the camera to a smaller picture, or send a smaller copy")
}

fn refuse(error: &image::ImageError, limits: &Limits) -> Diag {
    match error {
        image::ImageError::Limits(_) => {
            too_large(format!("the picture is larger than {} million pixels", limits.pixels / 1_000_000))
        }
        error => damaged(format!("the picture does not decode ({error})")),
    }
}
