//! The pages in front: what the workbook is, headlines and sums, the parts list, the items.

use super::calculations::in_unit;
use super::{Digits, Out, Shows, Style, printed};
use crate::About;
use crate::place::{Place, letters};
use rust_xlsxwriter::{
    Chart, ChartFont, ChartFormat, ChartLine, ChartSolidFill, ChartType, Color, Workbook, Worksheet, XlsxError,
};
use tare_study::LineRef;
use tare_units::Unit;

/// The colour of bars, and of lines behind them.
const BAR: Color = Color::RGB(0x2F_6F_8F);
const GRID: Color = Color::RGB(0xDD_E3_E6);
/// Most bars of a chart.
const MOST_BARS: u32 = 15;
/// First row of the headlines on the summary.
const FIRST_HEADLINE: u32 = 4;

/// A line's value in its unit, live; nothing where the line has no cell.
fn live(
    place: &Place<'_>,
    line: LineRef,
    unit: &Unit,
    at: (u32, u16),
    sheet: &mut Worksheet,
    out: &mut Out,
    strong: bool,
) -> Result<(), XlsxError> {
    let own = unit.from_si(place.study.value(line));
    let style = if strong { Style::StrongNumber(Digits::of(own)) } else { Style::Number(Digits::of(own)) };
    match place.reference(line) {
        Some(reference) => out.formula(sheet, at, &in_unit(&reference, unit), &Shows::Number(own), style),
        None => {
            out.values.push(format!("{} has no cell", place.study.lines.address(line)));
            out.value(sheet, at, &Shows::Number(own), style)
        }
    }
}

fn unit_of(place: &Place<'_>, line: LineRef) -> Unit {
    place.study.lines.unit(line).clone()
}

fn unit_text(unit: &Unit) -> &str {
    if unit.is_plain() { "" } else { &unit.text }
}

pub(crate) fn summary(place: &Place<'_>, about: &About, sheet: &mut Worksheet, out: &mut Out) -> Result<(), XlsxError> {
    let totals = &place.study.totals;
    out.words(sheet, (0, 0), &about.title, Style::Title)?;
    let line = about.facts.iter().map(|(what, says)| format!("{what} {says}")).collect::<Vec<_>>().join("; ");
    out.words(sheet, (1, 0), &line, Style::Says)?;
    for (column, head) in ["Headline", "Value", "Unit", "95 % of draws from", "to"].into_iter().enumerate() {
        out.words(
            sheet,
            (FIRST_HEADLINE - 1, column as u16),
            head,
            if matches!(column, 1 | 3 | 4) {
                Style::HeadNumber
            } else if column == 2 {
                Style::HeadUnit
            } else {
                Style::Head
            },
        )?;
    }
    for (column, width) in [44.0, 16.0, 12.0, 18.0, 16.0, 4.0].into_iter().enumerate() {
        sheet.set_column_width(column as u16, width)?;
    }
    let mut row = FIRST_HEADLINE;
    for headline in &about.headlines {
        let unit = unit_of(place, headline.line);
        out.words(sheet, (row, 0), &headline.says, Style::Strong)?;
        live(place, headline.line, &unit, (row, 1), sheet, out, true)?;
        out.words(sheet, (row, 2), unit_text(&unit), Style::AfterNumber)?;
        if let Some((low, high)) = headline.range {
            for (column, end) in [(3, low), (4, high)] {
                let own = unit.from_si(end);
                out.value(sheet, (row, column), &Shows::Number(own), Style::Number(Digits::of(own)))?;
            }
        }
        row += 1;
    }
    out.words(
        sheet,
        (row, 0),
        "The ranges were drawn when this was written; they do not follow a change made here.",
        Style::Says,
    )?;
    row += 2;
    type Rows = Vec<(String, LineRef)>;
    let named =
        |rows: &[(tare_study::CostKind, LineRef)]| -> Rows { rows.iter().map(|(k, l)| (k.word().to_owned(), *l)).collect() };
    let groups: [(&str, Rows, Option<LineRef>); 6] = [
        ("Cost by kind", named(&totals.by_kind), totals.cost),
        ("Cost by process", totals.by_process.clone(), totals.cost),
        ("Cost by function", totals.cost_by_function.clone(), totals.cost),
        ("Mass by material", totals.mass_by_material.clone(), totals.mass),
        ("Mass by function", totals.mass_by_function.clone(), totals.mass),
        ("Mass by making process", totals.mass_by_process.clone(), totals.mass),
    ];
    let mut chart_row = FIRST_HEADLINE;
    for (title, mut rows, total) in groups {
        if rows.is_empty() {
            continue;
        }
        let charted = matches!(title, "Cost by function" | "Mass by material");
        if title != "Cost by kind" {
            let value = |line: &LineRef| place.study.value(*line);
            rows.sort_by(|(a, x), (b, y)| value(y).total_cmp(&value(x)).then_with(|| a.cmp(b)));
        }
        for (column, head) in [title, "Value", "Unit", "Share"].into_iter().enumerate() {
            out.words(
                sheet,
                (row, column as u16),
                head,
                if column % 2 == 1 {
                    Style::HeadNumber
                } else if column == 2 {
                    Style::HeadUnit
                } else {
                    Style::Head
                },
            )?;
        }
        row += 1;
        let first = row;
        let unit = unit_of(place, rows[0].1);
        let mut sum = 0.0;
        for (name, line) in &rows {
            out.words(sheet, (row, 0), name, Style::Word)?;
            live(place, *line, &unit, (row, 1), sheet, out, false)?;
            out.words(sheet, (row, 2), unit_text(&unit), Style::AfterNumber)?;
            sum += unit.from_si(place.study.value(*line));
            row += 1;
        }
        let last = row - 1;
        for (at, (_, line)) in rows.iter().enumerate() {
            let here = first + at as u32;
            let share = unit.from_si(place.study.value(*line)) / sum;
            let formula = format!("B{}/SUM(B${}:B${})", here + 1, first + 1, last + 1);
            out.formula(sheet, (here, 3), &formula, &Shows::Number(share), Style::Number(Digits::Share))?;
        }
        out.words(sheet, (row, 0), "Sum", Style::Strong)?;
        let formula = format!("SUM(B{}:B{})", first + 1, last + 1);
        out.formula(sheet, (row, 1), &formula, &Shows::Number(sum), Style::Number(Digits::of(sum)))?;
        if let Some(total) = total
            && let Some(reference) = place.reference(total)
        {
            let own = unit.from_si(place.study.value(total));
            let formula = format!("B{}-{}", row + 1, in_unit(&reference, &unit));
            out.words(sheet, (row + 1, 0), "Sum less the total above", Style::Says)?;
            out.formula(sheet, (row + 1, 1), &formula, &Shows::Number(sum - own), Style::Number(Digits::Power))?;
            row += 1;
        }
        row += 2;
        if charted || title == "Cost by kind" {
            let last = last.min(first + MOST_BARS - 1);
            sheet.insert_chart(chart_row, 6, &bars(title, (first, last), &unit))?;
            chart_row += 19;
        }
    }
    sheet.set_freeze_panes(FIRST_HEADLINE, 1)?;
    printed(sheet, &about.title, None, 12)
}

/// A chart of the first rows of a group.
fn bars(title: &str, (first, last): (u32, u32), unit: &Unit) -> Chart {
    let mut chart = Chart::new(ChartType::Bar);
    let series = chart.add_series();
    series.set_categories(("Summary", first, 0, last, 0)).set_values(("Summary", first, 1, last, 1)).set_name(title).set_gap(45);
    series.set_format(ChartFormat::new().set_solid_fill(ChartSolidFill::new().set_color(BAR)));
    chart.title().set_name(title).set_font(ChartFont::new().set_size(11));
    chart.legend().set_hidden();
    // in a chart of bars the file calls the axis of categories, which stands upright, y; the first row is on top
    chart.y_axis().set_reverse().set_label_interval(1).set_font(ChartFont::new().set_size(8));
    chart.x_axis().set_name(unit_text(unit)).set_major_gridlines(true).set_major_gridlines_line(ChartLine::new().set_color(GRID));
    chart.y_axis().set_major_gridlines(false);
    chart.set_width(560).set_height(350);
    chart
}

/// Names for the cells of the headlines.
pub(crate) fn name_headlines(about: &About, workbook: &mut Workbook) -> Result<(), XlsxError> {
    for (at, headline) in about.headlines.iter().enumerate() {
        workbook.define_name(headline.name.clone(), &format!("=Summary!$B${}", FIRST_HEADLINE + at as u32 + 1))?;
    }
    Ok(())
}

/// Headings of a table with units under them, and the widths of its columns.
fn put_heads(heads: &[(&str, &str, f64)], sheet: &mut Worksheet, out: &mut Out) -> Result<(), XlsxError> {
    for (column, (head, unit, width)) in heads.iter().enumerate() {
        out.words(sheet, (2, column as u16), head, Style::Head)?;
        out.words(sheet, (3, column as u16), unit, Style::HeadSmall)?;
        sheet.set_column_width(column as u16, *width)?;
    }
    Ok(())
}

pub(crate) fn parts(place: &Place<'_>, sheet: &mut Worksheet, out: &mut Out) -> Result<(), XlsxError> {
    let study = place.study;
    out.words(sheet, (0, 0), "Parts", Style::Title)?;
    out.words(sheet, (1, 0), "Indented parts list. Mass and cost of one piece, and of all pieces in the product.", Style::Says)?;
    let money = study.currency.as_str();
    let heads: [(&str, &str, f64); 13] = [
        ("Level", "", 6.0),
        ("Label", "", 9.0),
        ("Name", "", 40.0),
        ("Count", "in its parent", 9.0),
        ("Pieces", "in the product", 9.0),
        ("Material", "", 24.0),
        ("Made or bought", "", 10.0),
        ("Making", "", 36.0),
        ("Mass of one", "kg", 11.0),
        ("Cost of one", money, 11.0),
        ("Mass of all", "kg", 11.0),
        ("Cost of all", money, 12.0),
        ("Where", "", 20.0),
    ];
    put_heads(&heads, sheet, out)?;
    let kilogram = Unit::parse("kg").unwrap_or_else(|_| Unit::plain());
    for (at, part) in study.parts.iter().enumerate() {
        let row = 4 + at as u32;
        out.value(sheet, (row, 0), &Shows::Number(part.level as f64), Style::Number(Digits::General))?;
        out.words(sheet, (row, 1), &part.label, Style::Word)?;
        let name = format!("{}{}", "   ".repeat(part.level.min(20)), part.name);
        out.words(sheet, (row, 2), &name, Style::Word)?;
        out.value(sheet, (row, 3), &Shows::Number(part.count), Style::Number(Digits::General))?;
        match part.parent {
            Some(parent) => {
                let formula = format!("D{}*E{}", row + 1, 4 + parent + 1);
                out.formula(sheet, (row, 4), &formula, &Shows::Number(part.pieces), Style::Number(Digits::General))?;
            }
            None => out.value(sheet, (row, 4), &Shows::Number(part.pieces), Style::Number(Digits::General))?,
        }
        out.words(sheet, (row, 5), &part.material, Style::AfterNumber)?;
        out.words(sheet, (row, 6), &part.make, Style::Word)?;
        out.words(sheet, (row, 7), &part.processes.join("; "), Style::Word)?;
        for (line, one, all) in [(part.mass, 8_u16, 10_u16), (part.cost, 9, 11)] {
            let Some(line) = line else { continue };
            let unit = if one == 8 { kilogram.clone() } else { unit_of(place, line) };
            live(place, line, &unit, (row, one), sheet, out, false)?;
            let value = unit.from_si(study.value(line)) * part.pieces;
            let formula = format!("{}{}*E{}", letters(one), row + 1, row + 1);
            out.formula(sheet, (row, all), &formula, &Shows::Number(value), Style::Number(Digits::of(value)))?;
        }
        if part.inside_costed {
            out.words(sheet, (row, 12), "inside what is costed as a whole", Style::Says)?;
        }
    }
    if !study.parts.is_empty() {
        sheet.autofilter(2, 0, 3 + study.parts.len() as u32, heads.len() as u16 - 1)?;
    }
    sheet.set_freeze_panes(4, 3)?;
    printed(sheet, "Parts", Some((2, 3)), 12)
}

pub(crate) fn items(place: &Place<'_>, sheet: &mut Worksheet, out: &mut Out) -> Result<(), XlsxError> {
    let study = place.study;
    out.words(sheet, (0, 0), "Items", Style::Title)?;
    out.words(
        sheet,
        (1, 0),
        "What is made or bought, each once: pieces a year, mass, own cost, and what it adds to the product.",
        Style::Says,
    )?;
    let money = study.currency.as_str();
    let heads: [(&str, &str, f64); 8] = [
        ("Item", "", 14.0),
        ("Name", "", 40.0),
        ("Volume", "1/a", 12.0),
        ("Mass of one", "kg", 11.0),
        ("Own cost", money, 12.0),
        ("Adds to the product", money, 14.0),
        ("Rough estimate", money, 12.0),
        ("", "", 18.0),
    ];
    put_heads(&heads, sheet, out)?;
    let [per_year, kilogram] = ["1/a", "kg"].map(|u| Unit::parse(u).unwrap_or_else(|_| Unit::plain()));
    for (at, item) in study.items.iter().enumerate() {
        let row = 4 + at as u32;
        out.words(sheet, (row, 0), &item.address, Style::Word)?;
        out.words(sheet, (row, 1), &item.name, Style::Word)?;
        let cells = [
            (2, item.volume, Some(&per_year)),
            (3, item.mass, Some(&kilogram)),
            (4, item.own, None),
            (5, item.contribution, None),
            (6, item.rough, None),
        ];
        for (column, line, unit) in cells {
            let Some(line) = line else { continue };
            let unit = unit.cloned().unwrap_or_else(|| unit_of(place, line));
            live(place, line, &unit, (row, column), sheet, out, false)?;
        }
        let says = if item.dominant {
            "dominant bought item"
        } else if item.uncosted {
            "not costed"
        } else {
            ""
        };
        out.words(sheet, (row, 7), says, Style::Says)?;
    }
    sheet.set_freeze_panes(4, 2)?;
    printed(sheet, "Items", Some((2, 3)), 12)
}

pub(crate) fn read_me(place: &Place<'_>, about: &About, sheet: &mut Worksheet, out: &mut Out) -> Result<(), XlsxError> {
    sheet.set_column_width(0, 28)?;
    sheet.set_column_width(1, 96)?;
    out.words(sheet, (0, 0), &about.title, Style::Title)?;
    let mut row = 2;
    let mut put = |out: &mut Out, sheet: &mut Worksheet, what: &str, says: &str| -> Result<(), XlsxError> {
        out.words(sheet, (row, 0), what, Style::Topic)?;
        out.words(sheet, (row, 1), says, Style::Note)?;
        // not every reader fits rows to wrapped text by itself
        let lines = (says.chars().count() / 105).max(what.chars().count() / 30) + 1;
        sheet.set_row_height(row, 14.0 * lines as f64)?;
        row += 1;
        Ok(())
    };
    for note in &about.notes {
        put(out, sheet, "Note", note)?;
    }
    for (what, says) in &about.facts {
        put(out, sheet, what, says)?;
    }
    put(out, sheet, "", "")?;
    let calculations = format!(
        "one sheet for each of the {} calculations: a row for each use, a column for each input and equation, the formula as its author wrote it in the heading.",
        place.sheets.len()
    );
    let how = [
        (
            "Summary",
            "headline numbers, and where cost and mass lie. Each is a formula; the checks under the sums should show zero.",
        ),
        ("Parts, Items", "the indented parts list, and each item once."),
        (
            "Inputs",
            "every number that comes from outside, with unit, spread, evidence and source. Change a shaded cell there; nothing else needs to be changed.",
        ),
        ("Calculations", calculations.as_str()),
        ("Look-up", "tables that calculations pick rows from; their cells come from Inputs where they have a spread."),
        (
            "Units",
            "Formulas work in SI units (money as it is). A column in another unit has its SI helper beside it, in small print.",
        ),
        (
            "Whole numbers",
            "A value within 1e-9 of a whole number counts as that number wherever something is rounded up or down.",
        ),
        ("Colours", "Shaded: a number to be changed. All others are formulas or words."),
        (
            "Names",
            "Rates, scenario and headlines have names; everything else is found by its address, which is the same as in Tare.",
        ),
        ("No number", "#N/A stands where there is no number: a need outside a table, or an input that is missing."),
        (
            "Ranges",
            "Standard uncertainties stand beside the inputs. Ranges of headlines were drawn by Tare and are not live here.",
        ),
    ];
    for (what, says) in how {
        put(out, sheet, what, says)?;
    }
    put(out, sheet, "", "")?;
    if !about.boundary.is_empty() {
        put(out, sheet, "What the totals hold", "")?;
    }
    for [topic, state, says] in &about.boundary {
        put(out, sheet, topic, &format!("{state}. {says}"))?;
    }
    if !out.values.is_empty() {
        put(out, sheet, "", "")?;
        put(
            out,
            sheet,
            "Values, not formulas",
            "These columns hold our value, since their formula cannot be written for a spreadsheet:",
        )?;
        for what in out.values.clone() {
            put(out, sheet, "", &what)?;
        }
    }
    sheet.set_portrait().set_paper_size(9).set_print_fit_to_pages(1, 0);
    Ok(())
}
