//! Which row belongs to which: dotted numbers, depth columns, indents, paths, groups named once or merged over their rows.

use crate::book::{Book, Cell, CellKind};
use crate::limits;
use crate::mapping::{Hierarchy, Meaning, TableMapping};
use crate::proposal::{Changed, Group, Question};
use crate::rows::{Gathered, origin};
use crate::tables::Found;
use std::collections::BTreeMap;
use tare_diag::Diag;

/// Sets levels, parents and groups of one table's rows.
pub(crate) fn settle(book: &Book, found: &Found, map: &mut TableMapping, range: std::ops::Range<usize>, out: &mut Gathered) {
    if range.is_empty() {
        return;
    }
    let sections = out.rows[range.clone()].iter().any(|r| r.group.is_some_and(|g| out.groups[g].section_row));
    let levels = dotted(book, found, map, range.clone(), out)
        .map(|l| (Hierarchy::Dotted, l))
        .or_else(|| level_column(book, found, map, range.clone(), out).map(|l| (Hierarchy::LevelColumn, l)))
        .or_else(|| indent(book, found, map, range.clone(), out).map(|l| (Hierarchy::Indent, l)));
    if let Some((form, levels)) = levels {
        map.hierarchy = form;
        if form == Hierarchy::Indent {
            for name in out.rows[range.clone()].iter_mut().filter_map(|r| r.name.as_mut()) {
                name.value = name.value[lead_bytes(&name.value)..].to_owned();
            }
        }
        nest(book, found, &levels, range, out);
        return;
    }
    if paths(book, found, map, range.clone(), out) {
        return;
    }
    if group_column(book, found, map, range, out) {
        map.hierarchy = Hierarchy::GroupColumn;
    } else if sections {
        map.hierarchy = Hierarchy::Sections;
    }
}

/// The steps of a position number: `1.10`, `2-1`, `A.3`, `1/2`.
fn steps(text: &str) -> Option<Vec<&str>> {
    let text = text.trim().trim_end_matches('.');
    let parts: Vec<&str> = text.split(['.', '-', '/']).collect();
    let digits = |p: &str| p.len() < 6 && p.bytes().all(|b| b.is_ascii_digit());
    let letters = |p: &str| p.len() < 3 && p.bytes().all(|b| b.is_ascii_alphabetic());
    (!text.is_empty() && text.len() < 1000 && parts.iter().all(|p| !p.is_empty() && (digits(p) || letters(p)))).then_some(parts)
}

fn dotted(
    book: &Book,
    found: &Found,
    map: &TableMapping,
    range: std::ops::Range<usize>,
    out: &mut Gathered,
) -> Option<Vec<usize>> {
    let column = map.column(Meaning::Position)?.column;
    let sheet = &book.sheets[found.sheet];
    let texts: Vec<String> =
        out.rows[range.clone()].iter().map(|r| r.label.as_ref().map(|l| l.value.clone()).unwrap_or_default()).collect();
    let good = texts.iter().filter(|t| steps(t).is_some()).count();
    let deep = texts.iter().filter(|t| steps(t).is_some_and(|s| s.len() > 1)).count();
    if good * 10 < texts.len() * 8 || deep == 0 {
        return None;
    }
    let known: std::collections::BTreeSet<String> = texts.iter().filter_map(|t| steps(t)).map(|s| s.join(".")).collect();
    let rooted =
        texts.iter().filter_map(|t| steps(t)).filter(|s| s.len() > 1 && known.contains(&s[..s.len() - 1].join("."))).count();
    if rooted * 2 < deep {
        return None;
    }
    // A workbook that stores dotted numbers as numbers turns 1.10 into 1.1: after 1.9 it can only have been 1.10.
    let mut before = String::new();
    let mut levels = Vec::new();
    for (i, text) in texts.iter().enumerate() {
        let mut text = text.clone();
        let row = &mut out.rows[range.start + i];
        let cell = sheet.seen(row.row - 1, column);
        if let (Some(cell), Some((head, last))) =
            (cell.filter(|c| c.kind == CellKind::Number), text.rsplit_once('.').map(|(h, l)| (h.to_owned(), l.to_owned())))
            && let Some((old_head, old_last)) = before.rsplit_once('.')
            && old_head == head
            && let (Ok(a), Ok(b)) = (old_last.parse::<u32>(), format!("{last}0").parse::<u32>())
            && a + 1 == b
        {
            text.push('0');
            let from =
                origin(book, found.sheet, cell, "stored as a number, so its last zero was lost; it follows the row before");
            out.changed.push(Changed { cell: from.clone(), became: text.clone() });
            row.label = Some(crate::proposal::Told { value: text.clone(), origin: from });
        }
        levels.push(steps(&text).map_or(0, |s| s.len() - 1));
        before = text;
    }
    let mut seen = BTreeMap::new();
    for r in &out.rows[range] {
        if let Some(l) = &r.label
            && let Some(first) = seen.insert(l.value.clone(), r.row)
        {
            let message = format!("the number `{}` stands in rows {first} and {}", l.value, r.row);
            out.warnings.push(Diag::warning("label-repeated", message).at(book.place(found.sheet, r.row - 1, column)));
        }
    }
    Some(levels)
}

fn level_column(
    book: &Book,
    found: &Found,
    map: &TableMapping,
    range: std::ops::Range<usize>,
    out: &Gathered,
) -> Option<Vec<usize>> {
    let column = map.column(Meaning::Level)?.column;
    let sheet = &book.sheets[found.sheet];
    // `2`, `..2`, `**3`, `+`, `2.0`: the number, or where there is none the count of marks.
    let read = |c: &Cell| {
        let text = c.text.trim();
        let after = text.trim_start_matches(|c: char| is_mark(c) || c.is_whitespace());
        let number = after.split('.').next().unwrap_or("");
        match number.parse::<usize>() {
            Ok(level) => Some(level),
            Err(_) if after.is_empty() && !text.is_empty() => Some(text.chars().filter(|c| is_mark(*c)).count()),
            Err(_) => None,
        }
    };
    let levels: Vec<Option<usize>> = out.rows[range].iter().map(|r| sheet.seen(r.row - 1, column).and_then(read)).collect();
    if levels.iter().filter(|l| l.is_some()).count() * 10 < levels.len() * 8 {
        return None;
    }
    let least = levels.iter().flatten().min().copied().unwrap_or(0);
    let mut last = 0;
    Some(
        levels
            .into_iter()
            .map(|l| {
                last = l.map_or(last, |l| l - least);
                last
            })
            .collect(),
    )
}

/// Marks that people set before a level or a name to show its depth.
fn is_mark(c: char) -> bool {
    matches!(c, '-' | '–' | '—' | '*' | '•' | '·' | '>' | '.' | '+' | '_' | '|' | '└' | '├' | '─' | '│')
}

/// How many bytes of blanks and marks stand before a name; `-12 V supply` has none, for a number follows.
fn lead_bytes(text: &str) -> usize {
    let rest = text.trim_start_matches(|c: char| c.is_whitespace() || is_mark(c));
    let blanks = text.len() - text.trim_start().len();
    if rest.starts_with(|c: char| c.is_ascii_digit()) && !text[..text.len() - rest.len()].ends_with(char::is_whitespace) {
        return blanks;
    }
    if rest.is_empty() { blanks } else { text.len() - rest.len() }
}

fn indent(book: &Book, found: &Found, map: &TableMapping, range: std::ops::Range<usize>, out: &Gathered) -> Option<Vec<usize>> {
    let column = map.column(Meaning::Name)?.column;
    let sheet = &book.sheets[found.sheet];
    let blanks: Vec<usize> = out.rows[range]
        .iter()
        .map(|r| {
            sheet.seen(r.row - 1, column).map_or(0, |c| {
                let lead: usize =
                    c.text[..lead_bytes(&c.text)].chars().map(|c| if c == '\t' { 4 } else { 1 + usize::from(is_mark(c)) }).sum();
                lead + usize::from(c.indent) * 4
            })
        })
        .collect();
    // A single stray blank is a slip of the finger; two or more on a fifth of the rows are meant.
    let deep = blanks.iter().filter(|b| **b >= 2).count();
    if deep * 5 < blanks.len() || deep == blanks.len() || blanks[0] >= 2 {
        return None;
    }
    let mut stack: Vec<usize> = Vec::new();
    Some(
        blanks
            .into_iter()
            .map(|b| {
                while stack.last().is_some_and(|s| *s >= b) {
                    stack.pop();
                }
                stack.push(b);
                stack.len() - 1
            })
            .collect(),
    )
}

fn nest(book: &Book, found: &Found, levels: &[usize], range: std::ops::Range<usize>, out: &mut Gathered) {
    let mut stack: Vec<usize> = Vec::new();
    let mut too_deep = None;
    for (i, level) in levels.iter().enumerate() {
        let index = range.start + i;
        if *level >= limits::LEVELS {
            too_deep.get_or_insert((index, *level));
        }
        let level = (*level).min(limits::LEVELS - 1).min(stack.len());
        stack.truncate(level);
        out.rows[index].level = level;
        out.rows[index].parent = stack.last().copied();
        stack.push(index);
    }
    if let Some((index, level)) = too_deep {
        let message = format!(
            "found level {}, deeper than the {} levels that are followed; deeper rows were put on the last one",
            level + 1,
            limits::LEVELS
        );
        let place = book.place(found.sheet, out.rows[index].row - 1, found.left);
        out.warnings.push(Diag::warning("levels-too-deep", message).at(place));
    }
}

fn new_group(
    out: &mut Gathered,
    known: &mut BTreeMap<(Option<usize>, String), usize>,
    name: &str,
    parent: Option<usize>,
    from: crate::proposal::Origin,
) -> usize {
    if let Some(g) = known.get(&(parent, name.to_owned())) {
        return *g;
    }
    out.groups.push(Group { name: name.to_owned(), parent, section_row: false, origin: from });
    known.insert((parent, name.to_owned()), out.groups.len() - 1);
    out.groups.len() - 1
}

/// Each row fills one of several columns, and the column is its depth: with its name there, or with a mark beside its name.
fn staircase(
    sheet: &crate::book::Sheet,
    columns: &[u32],
    has_name: bool,
    rows: &[crate::proposal::PartRow],
) -> Option<Vec<usize>> {
    let mark = |c: &Cell| {
        c.text.trim().chars().count() <= 2
            && (crate::tables::is_number(&c.text) || !c.text.contains(char::is_alphabetic) || matches!(c.text.trim(), "x" | "X"))
    };
    let mut levels: Vec<usize> = Vec::new();
    for row in rows {
        let mut filled = columns.iter().enumerate().filter_map(|(k, c)| Some((k, sheet.seen(row.row - 1, *c)?)));
        match (filled.next(), filled.next()) {
            (Some((k, cell)), None) if (!has_name || mark(cell)) && k <= levels.last().map_or(0, |l| l + 1) => levels.push(k),
            _ => return None,
        }
    }
    (columns.len() > 1 && levels.iter().any(|l| *l > 0)).then_some(levels)
}

/// One path in a cell, or one step per column, the steps above written once.
fn paths(book: &Book, found: &Found, map: &mut TableMapping, range: std::ops::Range<usize>, out: &mut Gathered) -> bool {
    let sheet = &book.sheets[found.sheet];
    let columns: Vec<u32> = map.columns.iter().filter(|c| c.meaning == Meaning::Path).map(|c| c.column).collect();
    let Some(first) = columns.first() else { return false };
    let mut known = BTreeMap::new();
    let mut current: Vec<Option<Cell>> = vec![None; columns.len()];
    let has_name = map.column(Meaning::Name).is_some();
    if let Some(levels) = staircase(sheet, &columns, has_name, &out.rows[range.clone()]) {
        for (row, level) in out.rows[range.clone()].iter_mut().zip(&levels) {
            let Some(cell) = sheet.seen(row.row - 1, columns[*level]).filter(|_| !has_name) else { continue };
            let from = origin(book, found.sheet, cell, "name in the column of its depth");
            row.name = Some(crate::proposal::Told { value: cell.text.trim().to_owned(), origin: from });
        }
        nest(book, found, &levels, range, out);
        map.hierarchy = Hierarchy::PathColumns;
        return true;
    }
    for index in range {
        let row = out.rows[index].row - 1;
        let mut parent = out.rows[index].group;
        if columns.len() == 1 {
            let Some(cell) = sheet.seen(row, *first).cloned() else { continue };
            let marks = ['/', '>', '\\', '|', '»'];
            let parts: Vec<String> =
                cell.text.split(marks).map(|p| p.trim().to_owned()).filter(|p| !p.is_empty()).take(limits::LEVELS).collect();
            let upto = if has_name { parts.len() } else { parts.len().saturating_sub(1) };
            for part in &parts[..upto] {
                parent = Some(new_group(
                    out,
                    &mut known,
                    part,
                    parent,
                    origin(book, found.sheet, &cell, "step of a path in one cell"),
                ));
            }
            if !has_name && let Some(last) = parts.last() {
                let from = origin(book, found.sheet, &cell, "last step of a path in one cell");
                out.rows[index].name = Some(crate::proposal::Told { value: last.clone(), origin: from });
            }
        } else {
            for (k, c) in columns.iter().enumerate() {
                if let Some(cell) = sheet.seen(row, *c) {
                    current[k] = Some(cell.clone());
                    current[k + 1..].fill(None);
                }
            }
            let filled: Vec<Cell> = current.iter().flatten().cloned().collect();
            let upto = if has_name { filled.len() } else { filled.len().saturating_sub(1) };
            for cell in &filled[..upto] {
                parent = Some(new_group(
                    out,
                    &mut known,
                    cell.text.trim(),
                    parent,
                    origin(book, found.sheet, cell, "step of a path over columns"),
                ));
            }
            if !has_name && let Some(last) = filled.last() {
                let from = origin(book, found.sheet, last, "last step of a path over columns");
                out.rows[index].name = Some(crate::proposal::Told { value: last.text.trim().to_owned(), origin: from });
            }
        }
        out.rows[index].group = parent;
    }
    map.hierarchy = if columns.len() == 1 { Hierarchy::PathCell } else { Hierarchy::PathColumns };
    true
}

/// A group name merged over its rows, written in each, or only in the first of them.
fn group_column(book: &Book, found: &Found, map: &TableMapping, range: std::ops::Range<usize>, out: &mut Gathered) -> bool {
    let sheet = &book.sheets[found.sheet];
    let merged = map.columns.iter().find(|c| {
        c.meaning == Meaning::Other
            && sheet.merges.iter().any(|m| {
                m.left == c.column && m.right == c.column && m.bottom > m.top && m.top > found.header && m.top <= found.last
            })
    });
    let Some(column) = map.column(Meaning::Group).or(merged).map(|c| c.column) else { return false };
    let mut known = BTreeMap::new();
    let mut current: Option<usize> = None;
    let mut blank = 0;
    for index in range.clone() {
        let row = out.rows[index].row - 1;
        if let Some(cell) = sheet.seen(row, column).cloned() {
            let rule = if sheet.merge_at(row, column).is_some_and(|m| m.bottom > m.top) {
                "group merged over its rows"
            } else {
                "group column"
            };
            let parent = out.rows[index].group;
            current = Some(new_group(out, &mut known, cell.text.trim(), parent, origin(book, found.sheet, &cell, rule)));
        } else {
            blank += 1;
        }
        out.rows[index].group = current.or(out.rows[index].group);
    }
    if blank > 0 && current.is_some() {
        let message = format!("{blank} rows without a group name were put into the group named above them");
        out.warnings.push(Diag::note("group-filled-down", message).at(book.place(found.sheet, found.header, column)));
    }
    current.is_some()
}

/// What belongs to an optional, alternative or not fitted assembly is not counted either.
fn inside_uncounted(out: &mut Gathered) {
    for i in 0..out.rows.len() {
        let Some(above) = out.rows[i].parent.map(|p| &out.rows[p]).filter(|p| !p.counted) else { continue };
        let why = format!("inside `{}`, which is not counted", above.name.as_ref().map_or("?", |n| n.value.as_str()));
        out.rows[i].counted = false;
        out.rows[i].why_not.get_or_insert(why);
    }
}

/// Rows whose parts stand in the list as well, and rows that are the sum of those below them.
pub(crate) fn assemblies(out: &mut Gathered, answers: &BTreeMap<String, String>, book: &Book, tables: &[Found]) -> usize {
    let mut children: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (i, r) in out.rows.iter().enumerate() {
        if let Some(p) = r.parent {
            children.entry(p).or_default().push(i);
        }
    }
    inside_uncounted(out);
    let count_assembly = answers.get("assemblies").is_some_and(|a| a == "assembly");
    let both: Vec<usize> = children
        .iter()
        .filter(|(p, kids)| {
            let own = |r: &crate::proposal::PartRow| {
                (
                    r.mass.as_ref().is_some_and(|m| m.value.is_some()),
                    r.price.as_ref().or(r.line_price.as_ref()).is_some_and(|p| p.value.is_some()),
                )
            };
            let (mass, price) = own(&out.rows[**p]);
            kids.iter().any(|k| {
                let (m, c) = own(&out.rows[*k]);
                (m && mass) || (c && price)
            })
        })
        .map(|(p, _)| *p)
        .collect();
    per_assembly(out, &children, answers);
    if !count_assembly {
        for p in children.keys() {
            out.rows[*p].counted = false;
            out.rows[*p].why_not.get_or_insert_with(|| "an assembly; its own parts are counted".to_owned());
        }
    }
    if count_assembly {
        let with_parent: Vec<usize> = children.values().flatten().copied().collect();
        for k in with_parent {
            out.rows[k].counted = false;
            out.rows[k].why_not.get_or_insert_with(|| "inside an assembly that is counted".to_owned());
        }
    }
    if !children.is_empty() {
        let name = |i: usize| out.rows[i].name.as_ref().map(|n| n.value.clone()).unwrap_or_default();
        let first = *children.keys().next().unwrap_or(&0);
        let text = format!(
            "{} rows, such as `{}`, have their own parts in the list; which of the two shall be counted?",
            children.len(),
            name(first)
        );
        let cell = out.rows[first].name.as_ref().map(|n| n.origin.clone());
        // Where only one of the two levels carries masses or prices, nothing can count twice and there is nothing to ask.
        if !both.is_empty() && !answers.contains_key("assemblies") {
            out.questions.push(Question {
                id: "assemblies".to_owned(),
                text,
                choices: vec![
                    ("parts".to_owned(), "the parts (taken unless answered)".to_owned()),
                    ("assembly".to_owned(), "the assemblies".to_owned()),
                ],
                cell,
            });
        }
        for p in both.iter().take(limits::MESSAGES) {
            let message = format!("`{}` and its own parts both carry a mass or price; counting both would double it", name(*p));
            let f = &tables[out.rows[*p].table];
            out.warnings.push(Diag::warning("both-levels", message).at(book.place(f.sheet, out.rows[*p].row - 1, f.left)));
        }
    }
    children.len()
}

/// Where an assembly is needed more than once, the quantities of its parts are either for one assembly or for the whole product: asked, not guessed.
fn per_assembly(out: &mut Gathered, children: &BTreeMap<usize, Vec<usize>>, answers: &BTreeMap<String, String>) {
    let Some(first) = children.keys().copied().find(|p| out.rows[*p].quantity.value.is_some_and(|v| v != 1.0)) else { return };
    match answers.get("quantity-basis").map(String::as_str) {
        Some("assembly") => {
            // Parents stand before their children, so that factors run down the tree.
            for i in 0..out.rows.len() {
                let Some(factor) = out.rows[i].parent.and_then(|p| out.rows[p].quantity.value) else { continue };
                let quantity = &mut out.rows[i].quantity;
                if let Some(v) = quantity.value.as_mut().filter(|_| factor != 1.0) {
                    *v *= factor;
                    quantity.origin.rule.push_str(&format!("; times {factor} of the assembly above it"));
                }
            }
        }
        Some(_) => {}
        None => {
            let row = &out.rows[first];
            let name = row.name.as_ref().map(|n| n.value.clone()).unwrap_or_default();
            out.questions.push(Question {
                id: "quantity-basis".to_owned(),
                text: format!(
                    "`{name}` is needed {} times; are the quantities of its parts for one of it or for the whole product?",
                    row.quantity.value.unwrap_or_default()
                ),
                choices: vec![
                    ("product".to_owned(), "for the whole product (taken unless answered: as written)".to_owned()),
                    ("assembly".to_owned(), "for one assembly (they are multiplied)".to_owned()),
                ],
                cell: Some(row.quantity.origin.clone()),
            });
        }
    }
}

/// Without any other sign, a row that equals the sum of the next rows is probably their assembly.
pub(crate) fn sum_rows(out: &mut Gathered, answers: &BTreeMap<String, String>, book: &Book, tables: &[Found]) -> usize {
    let mass = |r: &crate::proposal::PartRow| r.mass.as_ref().and_then(|m| m.value);
    let price = |r: &crate::proposal::PartRow| r.line_price.as_ref().or(r.price.as_ref()).and_then(|p| p.value);
    let mut found = Vec::new();
    for get in [&mass as &dyn Fn(&crate::proposal::PartRow) -> Option<f64>, &price] {
        for i in 0..out.rows.len() {
            if found.len() >= 100 {
                break;
            }
            let (Some(want), None) = (get(&out.rows[i]), out.rows[i].parent) else { continue };
            if want <= 0.0 || found.iter().any(|(p, n): &(usize, usize)| i >= *p && i <= p + n) {
                continue;
            }
            let mut sum = 0.0;
            for k in 1..=30.min(out.rows.len() - 1 - i) {
                let r = &out.rows[i + k];
                let (Some(v), true) = (get(r), r.table == out.rows[i].table) else { break };
                sum += v * if r.line_price.is_some() { 1.0 } else { r.quantity.value.unwrap_or(1.0) };
                // Two rows may add up by chance; three or more do so rarely.
                if k >= 3 && (sum - want).abs() <= 1e-9 * want {
                    found.push((i, k));
                    break;
                }
                if sum > want * 1.001 {
                    break;
                }
            }
        }
    }
    let mut nested = 0;
    for (i, n) in found {
        let id = format!("contains:{}:{}", out.rows[i].table, out.rows[i].row);
        match answers.get(&id).map(String::as_str) {
            Some("yes") => {
                nested += 1;
                out.rows[i].counted = false;
                out.rows[i].why_not.get_or_insert_with(|| "an assembly; its own parts are counted".to_owned());
                for r in &mut out.rows[i + 1..=i + n] {
                    (r.parent, r.level) = (Some(i), 1);
                }
                continue;
            }
            Some(_) => continue,
            None => {}
        }
        let name = out.rows[i].name.as_ref().map(|n| n.value.clone()).unwrap_or_default();
        let f = &tables[out.rows[i].table];
        let place = book.place(f.sheet, out.rows[i].row - 1, f.left);
        out.warnings.push(
            Diag::warning(
                "both-levels",
                format!("row `{name}` equals the sum of the {n} rows below it; it is probably their assembly"),
            )
            .at(place)
            .hint("answer whether it contains them, or they count twice"),
        );
        out.questions.push(Question {
            id,
            text: format!("does `{name}` contain the {n} rows below it?"),
            choices: vec![
                ("yes".to_owned(), "it is their assembly".to_owned()),
                ("no".to_owned(), "it is a part of its own".to_owned()),
            ],
            cell: out.rows[i].name.as_ref().map(|n| n.origin.clone()),
        });
    }
    nested
}
