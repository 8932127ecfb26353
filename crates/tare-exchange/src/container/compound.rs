//! The compound file around a binary workbook: just enough to walk its record stream before a full reader is let in.

const FREE: u32 = 0xFFFF_FFFA;

fn u16_at(b: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_le_bytes(b.get(at..at + 2)?.try_into().ok()?))
}

fn u32_at(b: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_le_bytes(b.get(at..at + 4)?.try_into().ok()?))
}

/// A compound file's sectors and directory.
pub(crate) struct Compound<'a> {
    bytes: &'a [u8],
    sector: usize,
    table: Vec<u32>,
    directory: Vec<u8>,
}

impl<'a> Compound<'a> {
    /// Opens the file; `None` if its tables do not hold together.
    pub(crate) fn open(bytes: &'a [u8]) -> Option<Self> {
        let shift = u16_at(bytes, 30)?;
        if !(9..=12).contains(&shift) {
            return None;
        }
        let mut file = Self { bytes, sector: 1 << shift, table: Vec::new(), directory: Vec::new() };
        let mut table_sectors: Vec<u32> = (0..109).filter_map(|i| u32_at(bytes, 76 + i * 4)).take_while(|s| *s < FREE).collect();
        let (mut next, mut hops) = (u32_at(bytes, 68)?, 0);
        while next < FREE && hops < 4096 {
            let sector = file.at(next)?;
            let entries = file.sector / 4 - 1;
            table_sectors.extend((0..entries).filter_map(|i| u32_at(sector, i * 4)).take_while(|s| *s < FREE));
            next = u32_at(sector, entries * 4)?;
            hops += 1;
        }
        for s in table_sectors {
            let sector = file.at(s)?;
            let part: Vec<u32> = sector.chunks_exact(4).map(|c| u32::from_le_bytes([c[0], c[1], c[2], c[3]])).collect();
            file.table.extend(part);
        }
        file.directory = file.chain(u32_at(bytes, 48)?, usize::MAX)?;
        Some(file)
    }

    fn at(&self, sector: u32) -> Option<&'a [u8]> {
        let start = (sector as usize).checked_add(1)?.checked_mul(self.sector)?;
        let end = (start + self.sector).min(self.bytes.len());
        self.bytes.get(start..end).filter(|s| !s.is_empty())
    }

    fn chain(&self, first: u32, length: usize) -> Option<Vec<u8>> {
        let mut out = Vec::new();
        let (mut next, mut hops) = (first, 0usize);
        while next < FREE && out.len() < length {
            out.extend_from_slice(self.at(next)?);
            next = *self.table.get(next as usize)?;
            hops += 1;
            if hops > self.bytes.len() / self.sector + 1 {
                return None;
            }
        }
        out.truncate(length.min(out.len()));
        Some(out)
    }

    fn entry(&self, name: &str) -> Option<(u32, usize)> {
        self.directory.chunks_exact(128).find_map(|e| {
            let length = usize::from(u16_at(e, 64)?).min(64);
            let wide: Vec<u16> = e[..length].chunks_exact(2).map(|c| u16::from_le_bytes([c[0], c[1]])).collect();
            let found = String::from_utf16_lossy(&wide);
            (found.trim_end_matches('\0').eq_ignore_ascii_case(name)).then_some((u32_at(e, 116)?, u32_at(e, 120)? as usize))
        })
    }

    /// Whether there is a stream of that name.
    pub(crate) fn has(&self, name: &str) -> bool {
        self.entry(name).is_some()
    }

    /// The bytes of a stream.
    pub(crate) fn stream(&self, name: &str) -> Option<Vec<u8>> {
        let (first, length) = self.entry(name)?;
        if length >= u32_at(self.bytes, 56)? as usize {
            return self.chain(first, length);
        }
        let (root, root_length) = self.entry("Root Entry")?;
        let small = self.chain(root, root_length)?;
        let table = self.chain(u32_at(self.bytes, 60)?, usize::MAX)?;
        let mut out = Vec::new();
        let (mut next, mut hops) = (first, 0usize);
        while next < FREE && out.len() < length && hops <= small.len() / 64 + 1 {
            let start = next as usize * 64;
            out.extend_from_slice(small.get(start..(start + 64).min(small.len()))?);
            next = u32_at(&table, next as usize * 4)?;
            hops += 1;
        }
        out.truncate(length.min(out.len()));
        Some(out)
    }
}

/// What a walk over a workbook's records tells before any cell is read.
#[derive(Debug, Default)]
pub(crate) struct Walk {
    /// Cells spanned by the bounding boxes of all sheets.
    pub(crate) spanned: u64,
    /// Whether the stream is under a password.
    pub(crate) locked: bool,
    /// Number formats by cell style.
    pub(crate) styles: Vec<Option<String>>,
    /// Style of each numeric cell, per sheet in stream order: (row, column, style).
    pub(crate) cells: Vec<Vec<(u32, u32, u16)>>,
}

/// Walks over the records of a workbook stream.
pub(crate) fn walk(stream: &[u8]) -> Walk {
    let mut walk = Walk::default();
    let mut custom: std::collections::BTreeMap<u32, String> = std::collections::BTreeMap::new();
    let mut ids: Vec<u32> = Vec::new();
    let mut bounds: Option<(u32, u32, u32, u32)> = None;
    let mut globals = true;
    let mut at = 0;
    let close = |b: &mut Option<(u32, u32, u32, u32)>, spanned: &mut u64| {
        if let Some((top, bottom, left, right)) = b.take() {
            *spanned += u64::from(bottom - top + 1) * u64::from(right - left + 1);
        }
    };
    while let (Some(kind), Some(length)) = (u16_at(stream, at), u16_at(stream, at + 2)) {
        let Some(data) = stream.get(at + 4..at + 4 + usize::from(length)) else { break };
        at += 4 + usize::from(length);
        match kind {
            0x0809 | 0x0009 | 0x0209 | 0x0409 => {
                close(&mut bounds, &mut walk.spanned);
                if globals && u16_at(data, 2) == Some(5) {
                    globals = false;
                } else {
                    globals = false;
                    walk.cells.push(Vec::new());
                }
            }
            0x002F => walk.locked = true,
            0x041E => {
                if let Some((id, text)) = format_record(data) {
                    custom.insert(id, text);
                }
            }
            0x00E0 => ids.push(u16_at(data, 2).map_or(0, u32::from)),
            // Cells: blank, number, label, truth value, formula, RK, shared string, several RKs.
            0x0203 | 0x0204 | 0x0205 | 0x0006 | 0x0206 | 0x0406 | 0x027E | 0x00FD | 0x00BD | 0x0003 | 0x0004 | 0x0005
            | 0x0002 => {
                let (Some(row), Some(first)) = (u16_at(data, 0), u16_at(data, 2)) else { continue };
                let (row, first) = (u32::from(row), u32::from(first));
                let count = if kind == 0x00BD { (data.len().saturating_sub(6) / 6).max(1) as u32 } else { 1 };
                let last = first + count - 1;
                bounds = Some(match bounds {
                    Some((t, b, l, r)) => (t.min(row), b.max(row), l.min(first), r.max(last)),
                    None => (row, row, first, last),
                });
                if let (Some(list), true) = (walk.cells.last_mut(), walk_kept(kind)) {
                    for i in 0..count {
                        if let Some(style) = u16_at(data, 4 + i as usize * 6) {
                            list.push((row, first + i, style));
                        }
                    }
                }
            }
            _ => {}
        }
    }
    close(&mut bounds, &mut walk.spanned);
    walk.styles =
        ids.into_iter().map(|id| custom.get(&id).cloned().or_else(|| super::format::builtin(id).map(str::to_owned))).collect();
    walk
}

fn walk_kept(kind: u16) -> bool {
    matches!(kind, 0x0203 | 0x027E | 0x00BD | 0x0006)
}

fn format_record(data: &[u8]) -> Option<(u32, String)> {
    let id = u32::from(u16_at(data, 0)?);
    let letters = usize::from(u16_at(data, 2)?);
    let wide = data.get(4)? & 1 == 1;
    let text = if wide {
        let units: Vec<u16> = data.get(5..5 + letters * 2)?.chunks_exact(2).map(|c| u16::from_le_bytes([c[0], c[1]])).collect();
        String::from_utf16_lossy(&units)
    } else {
        data.get(5..5 + letters)?.iter().map(|b| char::from(*b)).collect()
    };
    Some((id, text))
}
