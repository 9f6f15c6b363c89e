//! A diagram as text in the DOT language, for whoever wants to lay it out otherwise.

use super::model::Diagram;

/// The cards as nodes, the exits as edges, the phases as clusters.
pub fn dot(diagram: &Diagram) -> String {
    let mut out = String::new();
    let mut add = |line: String| {
        out.push_str(&line);
        out.push('\n');
    };
    add(format!("digraph {} {{", quoted(&diagram.name)));
    add(format!("  label={};", quoted(&diagram.title)));
    add("  node [shape=box];".to_owned());
    for (phase, title) in diagram.phases.iter().enumerate() {
        let cards = diagram.cards.iter().filter(|card| card.phase == phase);
        if !title.is_empty() {
            add(format!("  subgraph cluster_{phase} {{"));
            add(format!("    label={};", quoted(title)));
        }
        for card in cards {
            let about = if card.about.is_empty() {
                String::new()
            } else {
                format!(" · {}", card.about)
            };
            let mut label = format!("{}{about}\n{}", card.kind.word(), card.says);
            for note in &card.notes {
                label.push_str("\n▪ ");
                label.push_str(note);
            }
            label.push_str(&format!("\n[{}]", card.energy.words()));
            add(format!(
                "    {} [label={}];",
                quoted(card.step.as_str()),
                quoted(&label)
            ));
        }
        if !title.is_empty() {
            add("  }".to_owned());
        }
    }
    for card in &diagram.cards {
        for exit in &card.exits {
            let to = diagram.cards.get(exit.to).map_or("", |to| to.step.as_str());
            let label = exit
                .when
                .as_deref()
                .map_or_else(String::new, |when| format!(" [label={}]", quoted(when)));
            add(format!(
                "  {} -> {}{label};",
                quoted(card.step.as_str()),
                quoted(to)
            ));
        }
    }
    add("}".to_owned());
    out
}

fn quoted(text: &str) -> String {
    let text = text.replace('\\', "\\\\").replace('"', "\\\"");
    format!("\"{}\"", text.replace('\n', "\\n"))
}
