//! Calculations to read, check and write.

use super::Page;
use super::layout::Frame;
use crate::answer::Wrong;
use maud::html;
use std::collections::BTreeMap;
use std::sync::Arc;
use tare_app::calculations;

pub(super) fn list(p: &Page<'_>) -> Frame {
    let now = Arc::clone(&p.now);
    let mut used: BTreeMap<&str, usize> = BTreeMap::new();
    for block in &now.study.lines.blocks {
        *used.entry(now.study.lines.templates[block.template as usize].key.as_str()).or_default() += 1;
    }
    let rows = calculations::list(&now.library);
    let body = html! {
        h1 { "Calculations" }
        p.note { "Each one is a text with inputs, units, equations, sources and the published examples it must reproduce." }
        div.scroll tabindex="0" role="region" aria-label="Calculations" { table.grid { thead { tr { th scope="col" { "Calculation" } th scope="col" { "Key" } th scope="col" { "Kind" } th.k-num scope="col" { "Used here" } } } tbody {
            @for row in &rows { tr {
                th scope="row" { a href={ (p.at("calculation")) "?key=" (crate::api::encoded(&row.key)) } { (row.title) } }
                td { code { (row.key) } }
                td { (row.kind) }
                td.k-num { @match used.get(row.key.as_str()) { Some(n) => { (n) }, None => "" } }
            } }
        } } }
    };
    Frame::new("calculations", "Calculations", body)
}

pub(super) fn one(p: &Page<'_>) -> Result<Frame, Wrong> {
    let now = Arc::clone(&p.now);
    let key = p.asked("key").unwrap_or_default();
    let view = calculations::calculation(&now.library, key)?;
    let text = now.library.find(key).map(|c| c.text.clone()).unwrap_or_default();
    let body = html! {
        p.above { a href=(p.at("calculations")) { "Calculations" } " / " (key) }
        h1 { (view.title) }
        @if !view.says.is_empty() { p.lead { (view.says) } }
        section { h2 { "Inputs" } div.scroll tabindex="0" role="region" aria-label="Inputs" { table.grid { thead { tr { th scope="col" { "Name" } th scope="col" { "Unit" } th scope="col" { "From" } th scope="col" { "Default" } th scope="col" { "What" } } } tbody {
            @for input in &view.inputs { tr { th scope="row" { code { (input.name) } } td { (input.unit) } td { (input.from.join(", ")) } td { (input.default) } td { (input.says) } } }
        } } } }
        section { h2 { "Equations" } div.scroll tabindex="0" role="region" aria-label="Equations" { table.grid { thead { tr { th scope="col" { "Name" } th scope="col" { "Is" } th scope="col" { "Unit" } th scope="col" { "Source" } } } tbody {
            @for equation in &view.equations { tr { th scope="row" { code { (equation.name) } } td { code { (equation.formula) } } td { (equation.unit) } td { (equation.source) } } }
        } } } }
        section { h2 { "Text and checks" }
            p.note { "Change the text to see at once what is wrong with it and what its published checks give. Keeping it writes it to the workspace's own library; studies hold on to the text they use until they are renewed." }
            form id="calculation" data-key=(key) {
                label.hidden for="text" { "Text of the calculation" }
                textarea id="text" name="text" rows="28" spellcheck="false" { (text) }
                p.actions { button type="submit" { "Keep in the own library" } }
            }
            div id="checks" role="status" aria-live="polite" {}
        }
    };
    let mut frame = Frame::new("calculations", view.title, body);
    (frame.modules, frame.follows) = (&["calculation.js"], false);
    Ok(frame)
}
