//! From a book to a proposal.

use crate::book::{Book, cell_name};
use crate::checks;
use crate::columns;
use crate::hierarchy;
use crate::limits::MESSAGES;
use crate::mapping::{Hints, Mapping, Meaning, TableMapping, fingerprint};
use crate::proposal::{Counts, Distinct, PartRow, Proposal, Question, Skipped, TableFound};
use crate::refuse;
use crate::rows::{Gathered, RowReader, origin};
use crate::tables::{self, Found};
use crate::totals;
use std::collections::{BTreeMap, BTreeSet};
use tare_diag::{Diag, Place};

/// Proposes what a book's parts lists say.
///
/// Fails with one sentence if the book holds no parts list. Nothing is decided silently: what was skipped, changed or could not be decided is in
/// the proposal.
pub fn propose(book: &Book, hints: &Hints) -> Result<Proposal, Vec<Diag>> {
    let mut out = Gathered { warnings: book.remarks.clone(), ..Gathered::default() };
    let mut kept: Vec<Found> = Vec::new();
    let mut kept_marks: Vec<BTreeSet<RowMark>> = Vec::new();
    let mut mapping = Mapping::default();
    let mut sections = Vec::new();
    let mut refused: Vec<(Place, String)> = Vec::new();
    let mut used = vec![false; hints.mapping.as_ref().map_or(0, |m| m.tables.len())];
    let mut found = tables::find(book);
    found.sort_by_key(|f| (book.sheets[f.sheet].hidden, f.sheet));
    for table in found {
        let remembered = remembered(hints.mapping.as_ref(), &table, &mut used);
        let number = kept.len();
        let mut decided = columns::decide(book, &table, number, &hints.answers, remembered.as_ref());
        let place = book.place(table.sheet, table.header, table.left);
        // What its author hid is no second copy of what is seen, unless somebody says so.
        let id = format!("hidden-sheet:{}", table.sheet);
        if book.sheets[table.sheet].hidden
            && kept.iter().any(|k| !book.sheets[k.sheet].hidden)
            && hints.answers.get(&id).is_none_or(|a| a != "take")
        {
            refused.push((place, format!("its sheet is hidden (take it with the answer `{id}=take`)")));
            continue;
        }
        if decided.mapping.skip {
            refused.push((place, "the remembered mapping leaves this table out".to_owned()));
            continue;
        }
        let before = mark(&out);
        let sheet = &book.sheets[table.sheet];
        let count = RowReader {
            book,
            sheet,
            found: &table,
            map: &decided.mapping,
            table: number,
            answers: &hints.answers,
            out: &mut out,
        }
        .read();
        if let Some(why) = refuse::why_not(&decided.mapping, &out.rows[before.0..]) {
            forget(&mut out, before);
            refused.push((place, why));
            continue;
        }
        let marks = row_marks(&out.rows[before.0..]);
        if let Some(earlier) = copy_of(&kept_marks, &marks, |t| kept[t].sheet != table.sheet) {
            let id = format!("copy:{}:{}", table.sheet, table.header + 1);
            let other = &book.sheets[kept[earlier].sheet].name;
            match hints.answers.get(&id).map(String::as_str) {
                Some("copy") => {
                    forget(&mut out, before);
                    refused.push((place, format!("it repeats the list on the sheet `{other}`")));
                    continue;
                }
                Some(_) => {}
                None => decided.questions.push(Question {
                    id,
                    text: format!("the sheet `{}` repeats the list on the sheet `{other}`; is it a copy?", sheet.name),
                    choices: vec![
                        ("copy".to_owned(), "a copy: it is left out".to_owned()),
                        ("own".to_owned(), "parts of its own: both count".to_owned()),
                    ],
                    cell: out.rows[before.0].name.as_ref().map(|n| n.origin.clone()),
                }),
            }
        }
        out.warnings.append(&mut decided.warnings);
        out.questions.append(&mut decided.questions);
        let range = before.0..out.rows.len();
        hierarchy::settle(book, &table, &mut decided.mapping, range, &mut out);
        decided.mapping.sections = count > 0;
        mapping.tables.push(decided.mapping);
        kept.push(table);
        kept_marks.push(marks);
        sections.push(count);
    }
    if kept.is_empty() {
        return Err(vec![refuse::nothing(book, &refused)]);
    }
    for (place, why) in refused {
        out.warnings.push(Diag::note("table-left-out", format!("a table was left out: {why}")).at(place));
    }
    if used.iter().any(|u| !u) {
        out.warnings.push(
            Diag::warning("mapping-unused", "a remembered table was not found again by its titles")
                .at(Place::File(book.file.clone())),
        );
    }
    Ok(finish(book, hints, kept, mapping, sections, out))
}

/// How much was gathered before a table: rows, groups, totals, skipped, changed, warnings, questions.
type Mark = (usize, usize, usize, usize, usize, usize, usize);

fn mark(out: &Gathered) -> Mark {
    let messages = (out.warnings.len(), out.questions.len());
    (out.rows.len(), out.groups.len(), out.totals.len(), out.skipped.len(), out.changed.len(), messages.0, messages.1)
}

/// Takes back what a table gave that is left out.
fn forget(out: &mut Gathered, mark: Mark) {
    out.rows.truncate(mark.0);
    out.groups.truncate(mark.1);
    out.totals.truncate(mark.2);
    out.skipped.truncate(mark.3);
    out.changed.truncate(mark.4);
    out.warnings.truncate(mark.5);
    out.questions.truncate(mark.6);
}

/// What a row is and how many, to find lists that stand twice in a file.
type RowMark = (Option<String>, Option<u64>);

fn row_marks(rows: &[PartRow]) -> BTreeSet<RowMark> {
    let text = |r: &PartRow| r.part_number.as_ref().or(r.name.as_ref()).map(|t| t.value.trim().to_lowercase());
    rows.iter().map(|r| (text(r), r.quantity.value.map(f64::to_bits))).collect()
}

/// The earlier table, among those that may be meant, that holds four of five rows of the last one with the same quantities.
fn copy_of(earlier: &[BTreeSet<RowMark>], these: &BTreeSet<RowMark>, may: impl Fn(usize) -> bool) -> Option<usize> {
    let same = |set: &BTreeSet<RowMark>| these.iter().filter(|m| set.contains(*m)).count() * 5 >= these.len() * 4;
    (these.len() >= 2)
        .then(|| earlier.iter().enumerate().take(64).find(|(t, set)| may(*t) && same(set)).map(|(t, _)| t))
        .flatten()
}

fn remembered(mapping: Option<&Mapping>, table: &Found, used: &mut [bool]) -> Option<TableMapping> {
    let titles = fingerprint(table.titles.iter().map(|t| t.1.as_str()));
    let index = mapping?.tables.iter().enumerate().position(|(i, t)| !used[i] && t.fingerprint() == titles)?;
    used[index] = true;
    mapping?.tables.get(index).cloned()
}

fn finish(book: &Book, hints: &Hints, kept: Vec<Found>, mapping: Mapping, sections: Vec<usize>, mut out: Gathered) -> Proposal {
    if out.more_warnings > 0 {
        let message = format!("{} more messages like these were not kept", out.more_warnings);
        out.warnings.push(Diag::warning("cell-error", message).at(Place::File(book.file.clone())));
    }
    checks::dates(&mut out, &hints.answers);
    checks::prices(&mut out, &hints.answers);
    checks::mass_units(&mut out, &hints.answers);
    checks::quantities(&mut out);
    checks::notes(&mut out);
    checks::masses(&mut out);
    let alternatives = checks::alternatives(&mut out, &kept, book);
    let mut assemblies = hierarchy::assemblies(&mut out, &hints.answers, book, &kept);
    if assemblies == 0 {
        assemblies = hierarchy::sum_rows(&mut out, &hints.answers, book, &kept);
    }
    let totals = totals::check(book, &kept, &mapping, &mut out);
    outside(book, &kept, &mut out);
    hidden(book, &mut out);
    checks::private(book, &mut out.warnings);
    let mut by_table = vec![0.0; kept.len()];
    let mut by_kind = BTreeMap::new();
    for r in out.rows.iter().filter(|r| r.counted) {
        if let Some(v) = r.quantity.value {
            by_table[r.table] += v;
            *by_kind.entry(r.quantity.kind).or_insert(0.0) += v;
        }
    }
    let tables = kept
        .iter()
        .enumerate()
        .map(|(i, f)| TableFound {
            sheet: book.sheets[f.sheet].name.clone(),
            sheet_index: f.sheet,
            title: f.title.as_ref().map(|c| c.text.trim().trim_end_matches(':').to_owned()),
            range: format!("{}:{}", cell_name(f.header, f.left), cell_name(f.last, f.right)),
            header_row: f.header + 1,
            part_rows: out.rows.iter().filter(|r| r.table == i).count(),
            section_rows: sections[i],
            quantity: by_table[i],
        })
        .collect();
    let count = |f: &dyn Fn(&crate::proposal::PartRow) -> bool| out.rows.iter().filter(|r| f(r)).count();
    let counts = Counts {
        rows: out.rows.len(),
        sections: sections.iter().sum(),
        not_components: count(&|r| !r.component),
        not_fitted: count(&|r| r.component && !r.fitted),
        alternatives,
        optional: count(&|r| r.optional),
        assemblies,
    };
    Proposal {
        file: book.file.clone(),
        sha256: book.sha256.clone(),
        tables,
        distinct: distinct(&mapping, &out),
        parts: count(&|r| r.counted),
        total_quantity: by_table.iter().sum(),
        mapping,
        groups: out.groups,
        rows: out.rows,
        totals,
        skipped: out.skipped,
        changed: out.changed,
        warnings: out.warnings,
        questions: out.questions,
        counts,
        by_kind,
        by_table,
    }
}

/// In a list of places the distinct combinations give the items and their counts.
fn distinct(mapping: &Mapping, out: &Gathered) -> Vec<Distinct> {
    let mut groups: BTreeMap<(String, String, String), Vec<usize>> = BTreeMap::new();
    for (i, r) in out.rows.iter().enumerate() {
        let map = &mapping.tables[r.table];
        if r.designators.is_empty() || map.column(Meaning::Quantity).is_some() {
            continue;
        }
        let text = |t: &Option<crate::proposal::Told<String>>| t.as_ref().map(|t| t.value.clone()).unwrap_or_default();
        groups.entry((text(&r.value), text(&r.device), text(&r.package))).or_default().push(i);
    }
    let mut out: Vec<Distinct> = groups
        .into_iter()
        .map(|((value, device, package), rows)| Distinct {
            value,
            device,
            package,
            counted: rows.iter().filter(|i| out.rows[**i].counted).count(),
            rows,
        })
        .collect();
    out.sort_by_key(|d| d.rows[0]);
    out
}

/// Cells outside all tables are named, so that nothing disappears.
fn outside(book: &Book, kept: &[Found], out: &mut Gathered) {
    let mut more = 0usize;
    let mut shown = 0usize;
    for (s, sheet) in book.sheets.iter().enumerate() {
        for c in sheet.cells.iter().filter(|c| !c.hidden && !c.text.trim().is_empty()) {
            let inside = kept.iter().any(|f| {
                f.sheet == s
                    && ((c.row >= f.header && c.row <= f.last && c.column >= f.left && c.column <= f.right)
                        || f.title.as_ref().is_some_and(|t| (t.row, t.column) == (c.row, c.column)))
            });
            if inside {
                continue;
            }
            if shown < 100 {
                out.skipped.push(Skipped { cell: origin(book, s, c, "not taken"), why: "outside the tables".to_owned() });
                shown += 1;
            } else {
                more += 1;
            }
        }
    }
    if more > 0 {
        out.warnings.push(
            Diag::note("cells-outside", format!("{more} more cells lie outside the tables")).at(Place::File(book.file.clone())),
        );
    }
}

/// Stale text under merged ranges is never used, but told.
fn hidden(book: &Book, out: &mut Gathered) {
    for (s, sheet) in book.sheets.iter().enumerate() {
        for c in sheet.cells.iter().filter(|c| c.hidden && !c.text.trim().is_empty()).take(MESSAGES) {
            let message = format!("`{}` lies hidden under a merged range and is not used", c.text.trim());
            out.warnings.push(Diag::warning("hidden-under-merge", message).at(book.place(s, c.row, c.column)));
        }
        if sheet.hidden && !sheet.cells.is_empty() {
            out.warnings.push(
                Diag::note("sheet-hidden", format!("the sheet `{}` is hidden in the workbook", sheet.name))
                    .at(Place::File(book.file.clone())),
            );
        }
    }
}
