//! Answers to steps, as entries hold them.

use serde::{Deserialize, Serialize};

use crate::flow::name::ChoiceKey;
use crate::trade::formula::Value;
use crate::trade::quantity::{Quantity, plain_number};

/// The answer to a step.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Answer {
    /// A button without a choice.
    Done,
    /// One choice.
    Choice {
        /// Its key.
        key: ChoiceKey,
        /// Its label as shown.
        label: String,
    },
    /// Several choices.
    Choices {
        /// Keys and labels.
        chosen: Vec<(ChoiceKey, String)>,
    },
    /// A reading.
    Reading {
        /// It.
        reading: TypedReading,
    },
    /// A count or a plain number.
    Number {
        /// It.
        number: f64,
        /// As typed.
        typed: String,
    },
    /// Words.
    Text {
        /// Them.
        text: String,
    },
    /// A photo.
    Photo {
        /// It.
        photo: PhotoRef,
    },
}

impl Answer {
    /// The value that a fact takes from this answer; a bare button gives none.
    pub fn value(&self) -> Option<Value> {
        Some(match self {
            Answer::Done => return None,
            Answer::Choice { key, .. } => Value::Word(key.as_str().to_owned()),
            Answer::Choices { chosen } => Value::Words(
                chosen
                    .iter()
                    .map(|(key, _)| key.as_str().to_owned())
                    .collect(),
            ),
            Answer::Reading { reading } => Value::Quantity(reading.value),
            Answer::Number { number, .. } => Value::Number(*number),
            Answer::Text { text } => Value::Text(text.clone()),
            Answer::Photo { photo } => Value::Text(photo.original.clone()),
        })
    }

    /// The answer in words: `208 V`, `The plug fits and locks`.
    pub fn words(&self) -> String {
        match self {
            Answer::Done => "done".to_owned(),
            Answer::Choice { label, .. } => label.clone(),
            Answer::Choices { chosen } if chosen.is_empty() => "none of these".to_owned(),
            Answer::Choices { chosen } => {
                let labels: Vec<&str> = chosen.iter().map(|(_, label)| label.as_str()).collect();
                labels.join(", ")
            }
            Answer::Reading { reading } => reading.words(),
            Answer::Number { number, .. } => plain_number(*number),
            Answer::Text { text } => text.clone(),
            Answer::Photo { .. } => "photo".to_owned(),
        }
    }
}

impl TypedReading {
    /// The reading in the unit that it was typed in.
    pub fn words(&self) -> String {
        let unit = self
            .value
            .kind
            .units()
            .find(|unit| unit.symbol == self.unit);
        self.value
            .show(unit.unwrap_or_else(|| self.value.kind.usual_unit()))
    }
}

/// A quantity as a person typed it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TypedReading {
    /// The value.
    pub value: Quantity,
    /// The text as typed.
    pub typed: String,
    /// The symbol of the unit it is shown in.
    pub unit: String,
}

/// A photo in the store.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PhotoRef {
    /// Hash of the stored bytes, hexadecimal; empty while the photo is still arriving.
    pub stored: String,
    /// Hash of the bytes as sent, hexadecimal.
    pub original: String,
    /// When it says it was taken, as its own text; none if it does not say.
    pub taken: Option<String>,
    /// How it looks, as 64 bits that hardly change with its size or shade, hexadecimal; none
    /// where too little is on it, and in entries from before it was noted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub looks: Option<String>,
}

#[cfg(test)]
mod tests {
    use crate::record::entry::Entry;

    #[test]
    fn a_photo_from_before_looks_were_noted_is_written_as_it_was() {
        let old = r#"{"v":2,"at":"2031-05-04T08:00:00Z","who":null,"channel":"server",
            "what":{"what":"answered","step":"plate",
            "answer":{"kind":"photo","photo":{"stored":"","original":"aa","taken":null}},
            "fact":"plate","amends":false,"beside":null,"band":null}}"#;
        let old: String = old.lines().map(str::trim).collect();
        let entry: Entry = serde_json::from_str(&old).unwrap();
        assert_eq!(serde_json::to_string(&entry).unwrap(), old);
    }
}
