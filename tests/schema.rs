//! The schemas for editors know exactly the keys that the loader knows.

use std::collections::BTreeSet;

use fanwright::trade::goods::schema as goods;
use fanwright::trade::kit::Kit;
use fanwright::trade::speed_book::SpeedBook;
use serde_json::Value;

const KIT: &str = include_str!("../flows/demo/kit.yaml");
const BOOK: &str = include_str!("../flows/demo/speed-book.yaml");

/// The keys of the closed maps of a schema.
fn keys(schema: &Value, into: &mut BTreeSet<String>) {
    let Value::Object(map) = schema else { return };
    if map.get("additionalProperties") == Some(&Value::Bool(false)) {
        let properties = map["properties"].as_object().unwrap();
        into.extend(properties.keys().cloned());
    }
    for name in ["$defs", "properties"] {
        let below = map.get(name).and_then(Value::as_object);
        below
            .into_iter()
            .flat_map(|all| all.values())
            .for_each(|it| keys(it, into));
    }
}

/// The texts in quotes behind a word of the loader's code.
fn quoted<'t>(code: &'t str, before: &str) -> BTreeSet<&'t str> {
    code.split(before)
        .skip(1)
        .filter_map(|rest| rest.split_once('"').map(|(key, _)| key))
        .filter(|key| key.chars().all(|c| c.is_ascii_lowercase() || c == '_'))
        .collect()
}

#[test]
fn the_schema_of_flows_has_the_keys_of_the_loader_and_no_others() {
    let mut known = BTreeSet::new();
    keys(&fanwright::flow::schema::schema(), &mut known);
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/src/flow/load");
    let mut code = String::new();
    for file in std::fs::read_dir(folder).unwrap() {
        code.push_str(&std::fs::read_to_string(file.unwrap().path()).unwrap());
    }
    let taken: BTreeSet<&str> = [".take(\"", ".take_entry(\"", "report, \""]
        .iter()
        .flat_map(|before| quoted(&code, before))
        .collect();
    assert!(
        taken.len() > 40,
        "the keys are found in the code: {taken:?}"
    );
    for key in &taken {
        assert!(known.contains(*key), "the loader takes `{key}`");
    }
    for key in &known {
        assert!(
            code.contains(&format!("\"{key}\"")),
            "no loader takes `{key}`"
        );
    }
}

/// The keys that the reader names when it meets one it does not know.
fn expected(refusal: &str) -> BTreeSet<String> {
    let (_, list) = refusal.split_once("there may be ").unwrap();
    let list = list.trim_end_matches('.').split(", ");
    list.map(str::to_owned).collect()
}

#[test]
fn the_schemas_of_goods_have_the_keys_of_their_readers_and_no_others() {
    let kit = goods::kit();
    let properties = |of: &Value| -> BTreeSet<String> {
        of["properties"]
            .as_object()
            .unwrap()
            .keys()
            .cloned()
            .collect()
    };
    for (at, of) in [
        ("kit: ", &kit),
        ("    title: ", &kit["$defs"]["assembly"]),
        ("        speed: ", &kit["$defs"]["speed"]),
        ("      fins: ", &kit["$defs"]["coil"]),
        ("turns: ", &kit["$defs"]["rotation"]),
        ("diameter: ", &kit["$defs"]["blade"]),
        ("      openings: ", &kit["$defs"]["drain"]),
        (
            "        horizontal: ",
            &kit["$defs"]["drain"]["properties"]["open"],
        ),
        ("      groups: ", &kit["$defs"]["refrigerant"]),
    ] {
        let indent: String = at.chars().take_while(|c| *c == ' ').collect();
        let inside = indent.is_empty() && at != "kit: ";
        let more = if inside {
            "quixotic: 1, ".to_owned()
        } else {
            format!("{indent}quixotic: 1\n")
        };
        let changed = KIT.replacen(at, &format!("{more}{at}"), 1);
        let refusal = Kit::read(&changed).unwrap_err().to_string();
        assert_eq!(expected(&refusal), properties(of), "{at}");
    }
    let book = goods::speed_book();
    for (at, of) in [
        ("speed_book: ", &book),
        ("    speed: ", &book["$defs"]["row"]),
    ] {
        let indent: String = at.chars().take_while(|c| *c == ' ').collect();
        let changed = BOOK.replacen(at, &format!("{indent}quixotic: 1\n{at}"), 1);
        let refusal = SpeedBook::read(&changed).unwrap_err().to_string();
        assert_eq!(expected(&refusal), properties(of), "{at}");
    }
}
