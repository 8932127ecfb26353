//! An EXIF block: a small TIFF file (CIPA DC-008, TIFF 6.0). Offsets come from outside, so each is checked and what points
//! outside is passed over.

use super::Taken;
use jiff::civil::DateTime;
use jiff::tz::Offset;

/// The type of a text.
const TEXT: u16 = 2;
const ORIENTATION: u16 = 0x0112;
const CAMERA_BLOCK: u16 = 0x8769;
const GPS_BLOCK: u16 = 0x8825;
/// When the picture was taken, and when it was made digital: the same moment in a digital camera.
const TIMES: [(u16, u16); 2] = [(0x9003, 0x9011), (0x9004, 0x9012)];
/// Latitude, longitude, both of the destination, name of the area. Date and method alone tell no place.
const GPS_PLACES: [u16; 5] = [0x02, 0x04, 0x14, 0x16, 0x1c];

/// What stays of the first block: maker and model, orientation, resolution, position of the colour samples, copyright.
const KEPT: [u16; 8] = [0x010f, 0x0110, ORIENTATION, 0x011a, 0x011b, 0x0128, 0x0213, 0x8298];
/// What stays of the camera's block: exposure, times, flash, focal length, colour space, size, lens. Not the offset of the
/// clock, which says how far east one is.
const KEPT_OF_CAMERA: [u16; 24] = [
    0x829a, 0x829d, 0x8822, 0x8827, 0x9000, 0x9003, 0x9004, 0x9201, 0x9202, 0x9203, 0x9204, 0x9205, 0x9207, 0x9208, 0x9209,
    0x920a, 0xa001, 0xa002, 0xa003, 0xa402, 0xa403, 0xa405, 0xa433, 0xa434,
];
/// No text and no number that stays is longer than this many bytes. A longer one is not what its name says, and may reach
/// into a value that is to go.
const LONGEST_TEXT: usize = 96;
const LONGEST_NUMBER: usize = 16;

/// What an EXIF block says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Facts {
    /// 1 to 8.
    pub(super) orientation: u8,
    pub(super) taken: Option<Taken>,
    pub(super) location: bool,
}

impl Default for Facts {
    fn default() -> Self {
        Self { orientation: 1, taken: None, location: false }
    }
}

/// One entry of a block: its type and count as written, its bytes in the order of the file.
#[derive(Clone, Copy)]
struct Entry<'a> {
    tag: u16,
    kind: u16,
    count: u32,
    value: &'a [u8],
}

impl<'a> Entry<'a> {
    /// Count and bytes as they may stay: a text up to the zero that ends it, a number as it is.
    fn kept(self) -> Option<(u32, &'a [u8])> {
        if self.kind != TEXT {
            return (self.value.len() <= LONGEST_NUMBER).then_some((self.count, self.value));
        }
        // Some writers leave the zero away.
        let end = self.value.iter().position(|b| *b == 0).map_or(self.value.len(), |zero| zero + 1);
        let text = self.value.get(..end).filter(|t| t.len() <= LONGEST_TEXT)?;
        Some((u32::try_from(end).ok()?, text))
    }
}

#[derive(Clone, Copy)]
struct Tiff<'a> {
    bytes: &'a [u8],
    little: bool,
}

impl<'a> Tiff<'a> {
    fn new(bytes: &'a [u8]) -> Option<Self> {
        let little = match bytes.get(..4)? {
            b"II*\0" => true,
            b"MM\0*" => false,
            _ => return None,
        };
        Some(Self { bytes, little })
    }

    fn short(self, at: usize) -> Option<u16> {
        let two = self.bytes.get(at..at.checked_add(2)?)?.try_into().ok()?;
        Some(if self.little { u16::from_le_bytes(two) } else { u16::from_be_bytes(two) })
    }

    fn long(self, at: usize) -> Option<u32> {
        let four = self.bytes.get(at..at.checked_add(4)?)?.try_into().ok()?;
        Some(if self.little { u32::from_le_bytes(four) } else { u32::from_be_bytes(four) })
    }

    fn entry(self, at: usize) -> Option<Entry<'a>> {
        let (tag, kind, count) = (self.short(at)?, self.short(at + 2)?, self.long(at + 4)?);
        let size = [0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8].get(usize::from(kind)).copied().filter(|s| *s > 0)?;
        let length = usize::try_from(count).ok()?.checked_mul(size)?;
        let place = if length <= 4 { at + 8 } else { usize::try_from(self.long(at + 8)?).ok()? };
        let value = self.bytes.get(place..place.checked_add(length)?)?;
        Some(Entry { tag, kind, count, value })
    }

    /// The entries of the block at an offset that can be read; none without an offset.
    fn block(self, at: Option<u32>) -> impl Iterator<Item = Entry<'a>> {
        // The first eight bytes are the head of the file: read as a block, they would give thousands of chance entries.
        let at = at.and_then(|at| usize::try_from(at).ok()).filter(|at| *at >= 8).unwrap_or(usize::MAX);
        let count = usize::from(self.short(at).unwrap_or(0));
        (0..count).filter_map(move |i| self.entry(at.checked_add(2 + 12 * i)?))
    }

    fn first(self) -> impl Iterator<Item = Entry<'a>> {
        self.block(self.long(4))
    }

    /// The entries of the block a pointer of the first block leads to.
    fn behind(self, pointer: u16) -> impl Iterator<Item = Entry<'a>> {
        self.block(self.first().find(|e| e.tag == pointer).and_then(|e| self.number(e)))
    }

    /// A whole number, in whichever width it is written.
    fn number(self, entry: Entry<'a>) -> Option<u32> {
        let value = Tiff { bytes: entry.value, little: self.little };
        match entry.kind {
            1 => entry.value.first().map(|b| u32::from(*b)),
            3 => value.short(0).map(u32::from),
            4 => value.long(0),
            _ => None,
        }
    }
}

/// Reads a block; what does not read is as if it were not there.
pub(super) fn read(block: &[u8]) -> Facts {
    let Some(tiff) = Tiff::new(block) else { return Facts::default() };
    // Only what may stay in a copy counts, so that the copy is shown and dated as the photo is.
    let orientation = tiff.first().find(|e| e.tag == ORIENTATION && e.kept().is_some()).and_then(|e| tiff.number(e));
    let orientation = orientation.and_then(|n| u8::try_from(n).ok()).filter(|n| (1..=8).contains(n)).unwrap_or(1);
    let text = |tag| {
        let found = tiff.behind(CAMERA_BLOCK).filter(|e| e.tag == tag).find_map(|e| Some((e.kind, e.kept()?.1)))?;
        (found.0 == TEXT).then_some(found.1)
    };
    let taken = TIMES
        .iter()
        .find_map(|(time, offset)| Some(Taken { local: local(text(*time)?)?, offset: text(*offset).and_then(self::offset) }));
    let location = tiff.behind(GPS_BLOCK).any(|e| GPS_PLACES.contains(&e.tag));
    Facts { orientation, taken, location }
}

/// Reads `2026:03:14 09:26:53`. A camera whose clock was never set writes zeros or spaces, which is no time.
fn local(text: &[u8]) -> Option<DateTime> {
    let two = |at: usize| digits(text.get(at..at + 2)?);
    let year = two(0)? * 100 + two(2)?;
    let small = |n: i16| i8::try_from(n).ok();
    let [month, day, hour, minute, second] =
        [small(two(5)?)?, small(two(8)?)?, small(two(11)?)?, small(two(14)?)?, small(two(17)?)?];
    DateTime::new(year, month, day, hour, minute, second, 0).ok().filter(|_| year > 0)
}

/// Reads `+01:00`.
fn offset(text: &[u8]) -> Option<Offset> {
    let sign = match text.first()? {
        b'+' => 1,
        b'-' => -1,
        _ => return None,
    };
    let (hours, minutes) = (digits(text.get(1..3)?)?, digits(text.get(4..6)?)?);
    Offset::from_seconds(sign * (i32::from(hours) * 3600 + i32::from(minutes) * 60)).ok().filter(|_| minutes < 60)
}

fn digits(text: &[u8]) -> Option<i16> {
    text.iter().try_fold(0, |n, b| b.is_ascii_digit().then(|| n * 10 + i16::from(b - b'0')))
}

/// A new block with the entries that tell no place; none if nothing is left.
pub(super) fn without_location(block: &[u8]) -> Option<Vec<u8>> {
    let tiff = Tiff::new(block)?;
    let keep = |entries: &mut dyn Iterator<Item = Entry<'_>>, kept: &[u16]| {
        let mut out: Vec<(u16, u16, u32, Vec<u8>)> = Vec::new();
        for e in entries.filter(|e| kept.contains(&e.tag)) {
            if !out.iter().any(|o| o.0 == e.tag)
                && let Some((count, value)) = e.kept()
            {
                out.push((e.tag, e.kind, count, value.to_vec()));
            }
        }
        out
    };
    let mut first = keep(&mut tiff.first(), &KEPT);
    let camera = keep(&mut tiff.behind(CAMERA_BLOCK), &KEPT_OF_CAMERA);
    if first.is_empty() && camera.is_empty() {
        return None;
    }
    let mut out = Writer { bytes: Vec::new(), little: tiff.little };
    out.bytes.extend_from_slice(if tiff.little { b"II*\0" } else { b"MM\0*" });
    out.long(8);
    if camera.is_empty() {
        out.block(&mut first);
        return Some(out.bytes);
    }
    first.push((CAMERA_BLOCK, 4, 1, vec![0; 4]));
    // The pointer's value is the length of what stands in front of it, whatever the value is.
    let mut trial = Writer { bytes: out.bytes.clone(), little: tiff.little };
    trial.block(&mut first);
    let at = u32::try_from(trial.bytes.len()).ok()?;
    if let Some(pointer) = first.iter_mut().find(|e| e.0 == CAMERA_BLOCK) {
        pointer.3 = if tiff.little { at.to_le_bytes() } else { at.to_be_bytes() }.to_vec();
    }
    out.block(&mut first);
    out.block(&mut { camera });
    Some(out.bytes)
}

struct Writer {
    bytes: Vec<u8>,
    little: bool,
}

impl Writer {
    fn short(&mut self, n: u16) {
        self.bytes.extend(if self.little { n.to_le_bytes() } else { n.to_be_bytes() });
    }

    fn long(&mut self, n: u32) {
        self.bytes.extend(if self.little { n.to_le_bytes() } else { n.to_be_bytes() });
    }

    /// Writes a block, its entries in ascending order as the standard asks, and behind it the values that do not fit an entry.
    fn block(&mut self, entries: &mut [(u16, u16, u32, Vec<u8>)]) {
        entries.sort_by_key(|e| e.0);
        let mut place = self.bytes.len() + 2 + 12 * entries.len() + 4;
        self.short(u16::try_from(entries.len()).unwrap_or(0));
        for (tag, kind, count, value) in &*entries {
            self.short(*tag);
            self.short(*kind);
            self.long(*count);
            if value.len() <= 4 {
                self.bytes.extend(value.iter().copied().chain([0; 4]).take(4));
            } else {
                self.long(u32::try_from(place).unwrap_or(0));
                place += value.len().next_multiple_of(2);
            }
        }
        self.long(0);
        for (.., value) in entries.iter().filter(|e| e.3.len() > 4) {
            self.bytes.extend_from_slice(value);
            self.bytes.resize(self.bytes.len().next_multiple_of(2), 0);
        }
    }
}
