//! What a table refused and what came out as no number, said where it happened.

use crate::lines::{Argument, LineRef, Lines};
use std::collections::BTreeSet;
use tare_diag::{Diag, Place};

/// Problems that only show in the values: no machine class large enough, a division by zero, a logarithm of nothing.
pub(crate) fn refusals(lines: &Lines, values: &[f64]) -> Vec<Diag> {
    let mut found = Vec::new();
    let mut explained: BTreeSet<u32> = BTreeSet::new();
    for (number, block) in lines.blocks.iter().enumerate() {
        found.extend(negative_difference(lines, number as u32, values));
        let lowered = &lines.templates[block.template as usize].lowered;
        let subject = &lines.subjects[block.subject.0 as usize];
        for refusal in &lowered.refusals {
            if values[lines.operand(number as u32, refusal.operand) as usize] == 1.0 {
                explained.insert(number as u32);
                let says = format!(
                    "`{}` of {}: nothing in table `{}` fits (its largest {} is {})",
                    block.name, subject.title, refusal.table, refusal.key, refusal.largest
                );
                let diag = Diag::error("outside-table", says).at(Place::address(format!("{}/{}", subject.address, block.name)));
                found.push(diag.hint("look at the inputs (`tare explain`); if they are right, add a larger class to the table in a library of your own"));
            }
        }
        if explained.contains(&(number as u32)) {
            continue;
        }
        // The first line of a block that is no number while all its arguments are: that is where it went wrong.
        let template = &lines.templates[block.template as usize];
        let arguments_fine = template.arguments.iter().all(|argument| match argument {
            Argument::Shared(line) => lines.value(*line, values).is_finite(),
            Argument::Own(own) => lines.value(lines.args[(block.args + own) as usize], values).is_finite(),
        });
        if !arguments_fine {
            continue;
        }
        let broken = lines.lines_of(number as u32).find(|line| is_shown(lines, *line) && !lines.value(*line, values).is_finite());
        if let Some(line) = broken {
            let LineRef::Line { line: at, .. } = line else { continue };
            let formula = &lowered.lines[at as usize].text;
            let says = format!("`{}` of {} comes out as no number: {formula}", lines.name(line), subject.title);
            let diag = Diag::error("no-number", says).at(Place::address(lines.address(line)));
            found.push(diag.hint("a division by zero or a logarithm of nothing; look at its inputs with `tare explain`"));
        }
    }
    found
}

/// A mass by difference below nothing: some reading is wrong, or something is not in the whole. It is shown as it comes out.
fn negative_difference(lines: &Lines, number: u32, values: &[f64]) -> Option<Diag> {
    let block = &lines.blocks[number as usize];
    if lines.templates[block.template as usize].key != "roll-ups/difference-mass" {
        return None;
    }
    let mass = lines.lines_of(number).find(|line| lines.name(*line) == "mass")?;
    let value = lines.value(mass, values);
    if value >= 0.0 || value.is_nan() {
        return None;
    }
    let subject = &lines.subjects[block.subject.0 as usize];
    let shown = tare_units::show(value, lines.unit(mass), 4);
    let says = format!("the mass of {} by difference comes out negative: {shown}", subject.title);
    let diag = Diag::warning("negative-difference", says).at(Place::address(lines.address(mass)));
    Some(diag.hint(
        "the parts weigh more than the whole: look for a part counted twice, a wrong reading, or masses of different states",
    ))
}

/// Hidden lines (probes of tables) may hold anything.
fn is_shown(lines: &Lines, line: LineRef) -> bool {
    !lines.name(line).contains('#')
}
