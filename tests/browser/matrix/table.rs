//! The table of answers: `answers.txt` as rows, and rows as the file.

use std::fmt::Write as _;

/// Who asks, in the order of the columns.
pub(super) const WHO: [&str; 7] = [
    "nobody",
    "apprentice",
    "technician",
    "electrician",
    "supervisor",
    "holder",
    "worked",
];

/// Whose things are asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Whose {
    /// Of the own crew, or of nobody in particular.
    Own,
    /// Of another crew, or not there at all: the answers are the same.
    Other,
}

impl Whose {
    fn word(self) -> &'static str {
        match self {
            Whose::Own => "own",
            Whose::Other => "other",
        }
    }
}

/// One request, with what everybody gets for an answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Row {
    pub(super) method: String,
    pub(super) path: String,
    /// How far the job is that is asked for.
    pub(super) state: String,
    /// Whether the request ends the session it comes from.
    pub(super) ends_session: bool,
    /// What fills the braces of the path and the form, by name.
    pub(super) fields: Vec<(String, String)>,
    pub(super) answers: Vec<(Whose, Vec<String>)>,
}

impl Row {
    /// A request that nothing is known of yet.
    pub(super) fn new(method: &str, path: &str) -> Row {
        Row {
            method: method.to_owned(),
            path: path.to_owned(),
            state: "begun".to_owned(),
            ends_session: false,
            fields: Vec::new(),
            answers: Vec::new(),
        }
    }

    fn read_head(line: &str) -> Row {
        let mut words = line.split_whitespace();
        let mut row = Row::new(words.next().unwrap(), words.next().unwrap());
        for word in words {
            if let Some(state) = word.strip_prefix("job:") {
                state.clone_into(&mut row.state);
            } else if word == "ends-session" {
                row.ends_session = true;
            } else {
                let (name, value) = word.split_once('=').unwrap_or_else(|| {
                    panic!("“{word}” of “{line}” is no field: write name=value, + for a space")
                });
                let field = (name.to_owned(), value.replace('+', " "));
                row.fields.push(field);
            }
        }
        row
    }

    pub(super) fn head(&self) -> String {
        let mut head = format!("{} {}", self.method, self.path);
        if self.state != "begun" {
            write!(head, " job:{}", self.state).unwrap();
        }
        if self.ends_session {
            head.push_str(" ends-session");
        }
        for (name, value) in &self.fields {
            write!(head, " {name}={}", value.replace(' ', "+")).unwrap();
        }
        head
    }
}

/// Reads the file: its comment, and its rows.
pub(super) fn read(text: &str) -> (String, Vec<Row>) {
    let (mut comment, mut rows) = (String::new(), Vec::<Row>::new());
    for line in text.lines().filter(|line| !line.trim().is_empty()) {
        if line.starts_with('#') {
            writeln!(comment, "{line}").unwrap();
        } else if !line.starts_with(' ') {
            rows.push(Row::read_head(line));
        } else {
            let mut words = line.split_whitespace();
            let whose = match words.next() {
                Some("own") => Whose::Own,
                Some("other") => Whose::Other,
                word => panic!("a line of answers begins with own or other, not {word:?}"),
            };
            let answers = words.map(str::to_owned).collect();
            rows.last_mut().unwrap().answers.push((whose, answers));
        }
    }
    (comment, rows)
}

/// Writes the file.
pub(super) fn write(comment: &str, rows: &[Row]) -> String {
    let mut text = comment.to_owned();
    for row in rows {
        writeln!(text, "\n{}", row.head()).unwrap();
        for (whose, answers) in &row.answers {
            write!(text, "  {:<5}", whose.word()).unwrap();
            for (at, answer) in answers.iter().enumerate() {
                // The columns stand under each other where their words are short.
                let width = if at == 0 { 7 } else { 5 };
                write!(text, " {answer:<width$}").unwrap();
            }
            text.truncate(text.trim_end().len());
            text.push('\n');
        }
    }
    text
}

#[test]
fn the_table_reads_back_as_it_was_written() {
    let row = Row {
        state: "handed-in".to_owned(),
        fields: vec![("remark".to_owned(), "Which fan?".to_owned())],
        answers: vec![
            (Whose::Own, vec!["200".to_owned(); 7]),
            (Whose::Other, vec!["404".to_owned(); 7]),
        ],
        ..Row::new("POST", "/job/{job}")
    };
    let text = write("# About it\n", std::slice::from_ref(&row));
    assert_eq!(read(&text), ("# About it\n".to_owned(), vec![row]));
}
