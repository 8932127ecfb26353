//! What a table refused and what came out as no number, said where it happened.

use crate::lines::{Argument, Block, CompiledTemplate, LineRef, Lines};
use tare_diag::{Diag, Place};
use tare_engine::Operand;

/// Problems that only show in the values: no machine class large enough, a division by zero, a logarithm of nothing.
pub(crate) fn refusals(lines: &Lines, values: &[f64]) -> Vec<Diag> {
    let mut found = Vec::new();
    // Most blocks are in order: what may be wrong with one is listed once per calculation and then only read.
    let watched: Vec<Watched> = lines.templates.iter().map(Watched::new).collect();
    for (number, block) in lines.blocks.iter().enumerate() {
        let (number, template) = (number as u32, &lines.templates[block.template as usize]);
        let watched = &watched[block.template as usize];
        let value = |operand: Operand| values[lines.operand(number, operand) as usize];
        found.extend(negative_difference(lines, number, values));
        let before = found.len();
        for refusal in template.lowered.refusals.iter().filter(|r| value(r.operand) == 1.0) {
            found.push(refused(lines, block, refusal));
        }
        if found.len() > before {
            continue;
        }
        // The first line of a block that is no number while all its arguments are: that is where it went wrong.
        let broken = watched.shown.iter().find(|(_, _, operand)| !value(*operand).is_finite());
        if let Some((line, element, _)) = broken
            && arguments_fine(lines, template, block, values)
        {
            found.push(no_number(lines, LineRef::Line { block: number, line: *line, element: *element }));
        }
    }
    found
}

/// The lines of a calculation that are shown: line, element, operand. Hidden ones (probes of tables) may hold anything.
struct Watched {
    shown: Vec<(u32, u32, Operand)>,
}

impl Watched {
    fn new(template: &CompiledTemplate) -> Self {
        let lines = template.lowered.lines.iter().enumerate().filter(|(_, line)| !line.name.contains('#'));
        let shown = lines.flat_map(|(at, line)| {
            line.values.iter().enumerate().map(move |(element, operand)| (at as u32, element as u32, *operand))
        });
        Self { shown: shown.collect() }
    }
}

fn arguments_fine(lines: &Lines, template: &CompiledTemplate, block: &Block, values: &[f64]) -> bool {
    template.arguments.iter().all(|argument| {
        let line = match argument {
            Argument::Shared(line) => *line,
            Argument::Own(own) => lines.args[(block.args + own) as usize],
        };
        lines.value(line, values).is_finite()
    })
}

fn refused(lines: &Lines, block: &Block, refusal: &tare_calc::Refusal) -> Diag {
    let subject = &lines.subjects[block.subject.0 as usize];
    let says = format!(
        "`{}` of {}: nothing in table `{}` fits (its largest {} is {})",
        block.name, subject.title, refusal.table, refusal.key, refusal.largest
    );
    let diag = Diag::error("outside-table", says).at(Place::address(format!("{}/{}", subject.address, block.name)));
    diag.hint("look at the inputs (`tare explain`); if they are right, add a larger class to the table in a library of your own")
}

fn no_number(lines: &Lines, line: LineRef) -> Diag {
    let formula = match line {
        LineRef::Line { block, line, .. } => {
            let template = &lines.templates[lines.blocks[block as usize].template as usize];
            template.lowered.lines[line as usize].text.as_str()
        }
        LineRef::Leaf(_) => "",
    };
    let says = format!("`{}` of {} comes out as no number: {formula}", lines.name(line), lines.subject(line).title);
    let diag = Diag::error("no-number", says).at(Place::address(lines.address(line)));
    diag.hint("a division by zero or a logarithm of nothing; look at its inputs with `tare explain`")
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
