//! The joint census, and fasteners listed against those used.

use crate::figure::Figure;
use serde::Serialize;
use std::collections::BTreeMap;
use tare_library::Library;
use tare_study::Study;

/// The joints of a study.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct JointsView {
    /// Groups of one method and size.
    pub census: Vec<JointGroup>,
    /// Each joint.
    pub joints: Vec<JointRow>,
    /// Fasteners listed against used.
    pub fasteners: Vec<FastenerRow>,
    /// Points and seams in the product.
    pub total: f64,
}

/// Joints of one method and size.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct JointGroup {
    /// Method in words.
    pub method: String,
    /// Size, drive and the like, as stated.
    pub stated: String,
    /// How many in the product.
    pub count: f64,
    /// How many records.
    pub records: usize,
    /// Manual time in the product, in seconds.
    pub seconds: Option<f64>,
}

/// One joint.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct JointRow {
    /// Label or name.
    pub name: String,
    /// Method in words.
    pub method: String,
    /// Points or seams per assembly.
    pub count: Figure,
    /// How many of its assembly sit in the product.
    pub assemblies: f64,
    /// The assembly it belongs to.
    pub assembly: String,
    /// Size, drive and the like, as stated.
    pub stated: BTreeMap<String, String>,
    /// Labels of the parts it holds.
    pub parts: Vec<String>,
    /// Manual time per assembly.
    pub manual: Option<Figure>,
}

/// A fastener listed against used.
#[derive(Clone, Debug, PartialEq, Serialize, schemars::JsonSchema)]
pub struct FastenerRow {
    /// Its label.
    pub label: String,
    /// Its name.
    pub name: String,
    /// Listed in the product.
    pub listed: f64,
    /// Used by joints in the product.
    pub used: f64,
}

/// The joints of a compiled study.
pub fn joints(study: &Study, library: &Library) -> JointsView {
    let title = |key: &str| library.find(key).map_or_else(|| key.to_owned(), |c| c.title.clone());
    let label_of = |id| study.parts.iter().find(|p| p.id == id).map(|p| p.label.clone());
    let mut groups: BTreeMap<(String, String), JointGroup> = BTreeMap::new();
    let mut rows = Vec::new();
    for joint in &study.joints {
        let method = title(&joint.method);
        let size = |name: &str| matches!(name, "size" | "thread" | "diameter" | "nominal_diameter" | "drive" | "head" | "width");
        let stated: Vec<String> = joint.stated.iter().filter(|(n, _)| size(n)).map(|(_, t)| t.clone()).collect();
        let stated = stated.join(", ");
        let count = study.value(joint.count) * joint.assemblies;
        let group = groups.entry((method.clone(), stated.clone())).or_insert_with(|| JointGroup {
            method: method.clone(),
            stated,
            count: 0.0,
            records: 0,
            seconds: None,
        });
        group.count += count;
        group.records += 1;
        if let Some(manual) = joint.manual {
            *group.seconds.get_or_insert(0.0) += study.value(manual) * joint.assemblies;
        }
        rows.push(JointRow {
            name: joint.name.clone(),
            method,
            count: Figure::new(study, joint.count, 4),
            assemblies: joint.assemblies,
            assembly: joint.assembly.and_then(|a| study.parts.get(a)).map(|p| p.label.clone()).unwrap_or_default(),
            stated: joint.stated.iter().cloned().collect(),
            parts: joint.parts.iter().filter_map(|id| label_of(*id)).collect(),
            manual: joint.manual.map(|m| Figure::new(study, m, 3)),
        });
    }
    let mut census: Vec<JointGroup> = groups.into_values().collect();
    census.sort_by(|a, b| b.count.total_cmp(&a.count).then_with(|| a.method.cmp(&b.method)));
    let fasteners = study.fasteners.iter().filter_map(|f| {
        let part = study.parts.get(f.part)?;
        Some(FastenerRow { label: part.label.clone(), name: part.name.clone(), listed: f.listed, used: f.used })
    });
    let total = census.iter().map(|g| g.count).sum();
    JointsView { joints: rows, fasteners: fasteners.collect(), census, total }
}
