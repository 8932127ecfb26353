//! The description of the interface, made from the types that are read and written.

use super::across::{AskAnswer, CompareAnswer, Question};
use super::command::Entry;
use super::ideas::{IdeaAnswer, IdeasAnswer, Labels, New, SetAnswer, Stop};
use super::write::{Calculation, Turn, WhatIf};
use crate::answer::json;
use axum::response::Response;
use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, SchemaGenerator};
use serde_json::{Value, json as value};
use tare_app::live::{Conflicting, Done};
use tare_app::view;

/// One path and method.
struct Path {
    method: &'static str,
    path: &'static str,
    says: &'static str,
    /// Names behind the question mark, with what they are.
    asked: &'static [(&'static str, &'static str)],
    body: Option<fn(&mut SchemaGenerator) -> Value>,
    gives: fn(&mut SchemaGenerator) -> Value,
    /// Whether it is about the workspace rather than one study.
    across: bool,
}

fn of<T: JsonSchema>(generator: &mut SchemaGenerator) -> Value {
    generator.subschema_for::<T>().to_value()
}

/// Rows under a name, beside the entry they are of.
fn rows<T: JsonSchema>(generator: &mut SchemaGenerator) -> Value {
    let row = of::<T>(generator);
    value!({ "type": "object", "properties": { "head": { "type": "integer" }, "rows": { "type": "array", "items": row } } })
}

fn anything(_: &mut SchemaGenerator) -> Value {
    value!({ "type": "object" })
}

const fn get(path: &'static str, says: &'static str, gives: fn(&mut SchemaGenerator) -> Value) -> Path {
    Path { method: "get", path, says, asked: &[], body: None, gives, across: false }
}

const fn post(
    path: &'static str,
    says: &'static str,
    body: fn(&mut SchemaGenerator) -> Value,
    gives: fn(&mut SchemaGenerator) -> Value,
) -> Path {
    Path { method: "post", path, says, asked: &[], body: Some(body), gives, across: false }
}

const fn with(path: Path, asked: &'static [(&'static str, &'static str)]) -> Path {
    Path { asked, ..path }
}

const fn across(path: Path) -> Path {
    Path { across: true, ..path }
}

const STUDY: &str = "/api/studies/{study}/";
const WORKSPACE: &str = "/api/";

const PATHS: &[Path] = &[
    get("parts", "The parts, depth-first, with their numbers.", of::<view::PartsTable>),
    with(
        get("record", "A record with its fields and values.", of::<view::RecordView>),
        &[("of", "an address, or an identifier behind `@`")],
    ),
    with(
        get("list", "The records of a kind.", rows::<view::RecordView>),
        &[("kind", "joint, removal, hold, finding, photo ...")],
    ),
    get("choices", "What the library and the study offer to choose from.", of::<view::Choices>),
    get("history", "Every entry, oldest first.", rows::<tare_app::HistoryRow>),
    with(
        get("explain", "Why a number is what it is.", of::<view::ExplainView>),
        &[("line", "the address of a line"), ("limit", "how many lines at most")],
    ),
    get("cost", "The should-cost.", of::<view::CostView>),
    get("mass", "The mass balance.", of::<view::MassView>),
    get("time", "Assembly time.", of::<view::TimeView>),
    get("joints", "The joint census.", of::<view::JointsView>),
    get("spread", "Ranges of the headlines, once they are drawn.", anything),
    get("problems", "Messages of the computation.", rows::<view::ProblemRow>),
    with(
        get("labels", "Numbers for new labels that nobody else gets.", anything),
        &[("device", "which device"), ("count", "how many")],
    ),
    get("live", "Server-sent events: entry, computed, ranges, behind.", anything),
    post("entries", "Records commands as one entry, all or none; the same identifier is recorded once.", of::<Entry>, of::<Done>),
    post("undo", "Takes an entry back.", of::<Turn>, of::<Done>),
    post("redo", "Brings an entry back.", of::<Turn>, of::<Done>),
    post("whatif", "Computes what commands would come to; nothing is recorded.", of::<WhatIf>, of::<tare_app::live::WhatIf>),
    post("calculation", "Checks the text of a calculation, and keeps it where that is asked for.", of::<Calculation>, anything),
    with(
        post("photos", "Takes a photo in; the body is the picture.", anything, anything),
        &[("name", "what it shows"), ("part", "the part it shows"), ("entry", "identifier of the entry")],
    ),
    get("ideas", "What to change: recorded ideas and those rules find, with safety findings first.", of::<IdeasAnswer>),
    with(get("idea", "One idea, and what it changes line by line.", of::<IdeaAnswer>), &[("of", "its label")]),
    with(
        get("ideas-set", "The best set of ideas; it is looked for when it is asked for first.", of::<SetAnswer>),
        &[("most", "the most money to be laid out"), ("again", "look for it again at the last entry")],
    ),
    post("ideas", "Records a new idea, or only says what is wrong with it.", of::<New>, anything),
    post(
        "ideas-together",
        "Computes ideas as one, beside each alone; nothing is recorded.",
        of::<Labels>,
        of::<tare_app::live::Together>,
    ),
    post("ideas-drop", "Drops ideas with a reason that is kept.", of::<Labels>, of::<Done>),
    post("ideas-keep", "Records ideas of rules as the study's own.", of::<Labels>, of::<Done>),
    post("ideas-take", "Makes a variant of the study with ideas.", of::<Labels>, anything),
    post("ideas-stop", "Ends the search for a best set.", of::<Stop>, anything),
    across(with(
        get("compare", "Studies side by side under the scenario of the first.", of::<CompareAnswer>),
        &[("with", "a study; as often as wanted, the first gives the scenario"), ("on", "the yardstick ranked by")],
    )),
    across(get("questions", "Saved questions.", anything)),
    across(post("questions", "Saves a question.", of::<Question>, anything)),
    across(post("ask", "Asks all studies of one client, with the house's own.", of::<Question>, of::<AskAnswer>)),
];

pub(crate) async fn openapi() -> Response {
    json(&described())
}

fn described() -> Value {
    // the description's own dialect refers to its components
    let mut generator =
        SchemaSettings::draft2020_12().with(|s| s.definitions_path = "/components/schemas".into()).into_generator();
    let mut paths = serde_json::Map::new();
    for path in PATHS {
        let asked = path
            .asked
            .iter()
            .map(|(name, says)| value!({ "name": name, "in": "query", "description": says, "schema": { "type": "string" } }));
        let study = value!({ "name": "study", "in": "path", "required": true, "schema": { "type": "string" } });
        let gives = (path.gives)(&mut generator);
        let content = |schema: Value| value!({ "application/json": { "schema": schema } });
        let wrong =
            |says: &str| value!({ "description": says, "content": content(value!({ "$ref": "#/components/schemas/Problems" })) });
        let mut operation = value!({
            "summary": path.says,
            "parameters": std::iter::once(study).filter(|_| !path.across).chain(asked).collect::<Vec<_>>(),
            "responses": { "200": { "description": "as asked for", "content": content(gives) }, "404": wrong("nothing is called so"), "422": wrong("it does not read or does not fit") },
        });
        if let Some(body) = path.body {
            operation["requestBody"] = value!({ "required": true, "content": content(body(&mut generator)) });
            operation["responses"]["409"] = wrong("somebody changed it meanwhile; both values are there");
        }
        let address = format!("{}{}", if path.across { WORKSPACE } else { STUDY }, path.path);
        // one address may be read and written to
        let all = paths.entry(address).or_insert_with(|| value!({}));
        all[path.method] = operation;
    }
    let text = || value!({ "type": "string" });
    let problem = value!({ "type": "object", "properties": {
        "severity": text(), "code": text(), "says": text(), "place": text(), "hints": { "type": "array", "items": text() },
    } });
    let conflict = of::<Conflicting>(&mut generator);
    let mut schemas = generator.take_definitions(true);
    schemas.insert(
        "Problems".to_owned(),
        value!({ "type": "object", "properties": { "problems": { "type": "array", "items": problem }, "conflict": conflict } }),
    );
    value!({
        "openapi": "3.1.0",
        "info": { "title": "Tare", "version": env!("CARGO_PKG_VERSION"), "description": "What the pages of a workspace ask and send. Changes are entries of commands, as on the command line." },
        "paths": paths,
        "components": { "schemas": schemas },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every reference leads somewhere.
    fn references(found: &Value, out: &mut Vec<String>) {
        match found {
            Value::Object(map) => {
                out.extend(map.get("$ref").and_then(Value::as_str).map(str::to_owned));
                map.values().for_each(|value| references(value, out));
            }
            Value::Array(all) => all.iter().for_each(|value| references(value, out)),
            _ => {}
        }
    }

    #[test]
    fn the_description_holds_together() {
        let described = described();
        let mut found = Vec::new();
        references(&described, &mut found);
        assert!(found.len() > 20);
        for reference in found {
            let name = reference.strip_prefix("#/components/schemas/").expect("a component");
            assert!(described["components"]["schemas"].get(name).is_some(), "{reference}");
        }
        let ideas = &described["paths"]["/api/studies/{study}/ideas"];
        assert!(ideas["get"].is_object() && ideas["post"].is_object(), "one address, read and written to");
        assert_eq!(described["paths"]["/api/compare"]["get"]["parameters"][0]["name"], "with", "no study is named before");
        let entry = &described["components"]["schemas"]["Entry"];
        assert_eq!(entry["required"], value!(["id", "commands"]));
    }
}
