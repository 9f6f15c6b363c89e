//! Diagrams of flows: every step and every way once, nothing over anything, no text cut off.

mod properties;
mod small;

use fanwright::flow::embedded;
use fanwright::flow::library::{Library, Sources};
use fanwright::flow::name::FlowName;
use fanwright::report::diagram::{self, Diagram, Sheet};

/// The diagram of a flow that is written here.
fn diagram_of(yaml: &str) -> Diagram {
    let files = [("flow.yaml".to_owned(), yaml.to_owned())].into();
    let sources = Sources {
        files,
        pictures: [].into(),
    };
    let library = match Library::load(sources) {
        Ok(library) => library,
        Err(problems) => {
            let told: Vec<String> = problems.iter().map(ToString::to_string).collect();
            panic!("{}\n{yaml}", told.join("\n"))
        }
    };
    let name = library.flows().keys().next().unwrap().clone();
    diagram::diagram(&library, &name).unwrap()
}

/// Every shipped flow with its sheet.
fn shipped() -> Vec<(FlowName, Diagram, Sheet)> {
    let library = embedded::library().unwrap();
    let names = library.flows().keys().cloned();
    names
        .map(|name| {
            let diagram = diagram::diagram(&library, &name).unwrap();
            let sheet = diagram::sheet(&diagram);
            (name, diagram, sheet)
        })
        .collect()
}
