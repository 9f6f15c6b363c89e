//! What an expression may have at most, looked at before it is parsed: the parser and the
//! lowering recurse, so a chain of thousands of operators would end the stack.

use super::Fault;
use super::syntax::Place;

/// The most bytes one expression may have.
pub const EXPRESSION_BYTES_MAX: usize = 1024;
/// The most brackets that may be open at one place.
pub const EXPRESSION_DEPTH_MAX: usize = 16;
/// The most operators, commas and opening brackets one expression may have.
pub const EXPRESSION_OPERATORS_MAX: usize = 100;

/// Refuses a text that is too large, too deep, or holds characters that no expression needs.
pub(super) fn hold(place: &Place<'_>) -> Result<(), Fault> {
    let source = place.source;
    if source.len() > EXPRESSION_BYTES_MAX {
        return Err(place.fault(
            0,
            format!(
                "This expression has {} bytes; {EXPRESSION_BYTES_MAX} are allowed.",
                source.len()
            ),
            "Split it over several steps or facts.",
        ));
    }
    if source.trim().is_empty() {
        return Err(place.fault(
            0,
            "There is no expression here.",
            "Write one, such as lead == \"cut\".",
        ));
    }
    if let Some((offset, strange)) = source.char_indices().find(|(_, c)| is_strange(*c)) {
        return Err(strange_character(place, offset, strange));
    }
    sizes(place)
}

fn is_strange(c: char) -> bool {
    !c.is_ascii() || (c.is_ascii_control() && !matches!(c, '\n' | '\r' | '\t'))
}

fn strange_character(place: &Place<'_>, offset: usize, strange: char) -> Fault {
    let mend = match strange {
        '“' | '”' | '„' | '‘' | '’' => "Use straight quotes: \".",
        '−' | '–' | '—' => "Use the plain minus sign: -.",
        '×' | '·' => "Write * for times.",
        '÷' => "Write / for divided by.",
        '≤' => "Write <= instead.",
        '≥' => "Write >= instead.",
        '≠' => "Write != instead.",
        _ => "Use plain letters, digits and signs; texts for people belong in labels.",
    };
    let shown = strange.escape_debug();
    place.fault(
        offset,
        format!("The character {shown} has no place in an expression."),
        mend,
    )
}

/// Counts without regard to quotes: that can only count too much, never too little. A bracket that
/// does not close the innermost open one closes nothing, since the parser passes over it and goes
/// deeper with the next.
fn sizes(place: &Place<'_>) -> Result<(), Fault> {
    let bytes = place.source.as_bytes();
    let (mut open, mut operators) = (Vec::new(), 0_usize);
    for (offset, byte) in bytes.iter().enumerate() {
        match byte {
            b'(' | b'[' | b'{' => {
                open.push(*byte);
                operators += 1;
            }
            b')' | b']' | b'}' => drop(open.pop_if(|open| closes(*open) == *byte)),
            // The second half of a two-sign operator is not counted again.
            b'=' | b'&' | b'|' if offset > 0 && b"=!<>&|".contains(&bytes[offset - 1]) => {}
            b'+' | b'-' | b'*' | b'/' | b'%' | b'<' | b'>' | b'=' | b'!' | b'&' | b'|' | b'?'
            | b':' | b'.' | b',' => operators += 1,
            b'i' if is_word_in(bytes, offset) => operators += 1,
            _ => {}
        }
        if open.len() > EXPRESSION_DEPTH_MAX {
            return Err(place.fault(
                offset,
                format!("More than {EXPRESSION_DEPTH_MAX} brackets are open here."),
                "Take apart what stands in the innermost ones.",
            ));
        }
        if operators > EXPRESSION_OPERATORS_MAX {
            return Err(place.fault(
                offset,
                format!("This expression has more than {EXPRESSION_OPERATORS_MAX} operators."),
                "Split it over several steps or facts.",
            ));
        }
    }
    Ok(())
}

/// What closes this bracket.
fn closes(open: u8) -> u8 {
    match open {
        b'(' => b')',
        b'[' => b']',
        _ => b'}',
    }
}

fn is_word_in(bytes: &[u8], offset: usize) -> bool {
    let part_of_word =
        |byte: Option<&u8>| byte.is_some_and(|byte| byte.is_ascii_alphanumeric() || *byte == b'_');
    let before = offset.checked_sub(1).and_then(|before| bytes.get(before));
    bytes.get(offset + 1) == Some(&b'n')
        && !part_of_word(before)
        && !part_of_word(bytes.get(offset + 2))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::model::At;

    fn refused(source: &str) -> String {
        let at = At { line: 1, column: 1 };
        hold(&Place { source, at }).unwrap_err().wrong
    }

    fn allowed(source: &str) {
        let at = At { line: 1, column: 1 };
        assert_eq!(hold(&Place { source, at }), Ok(()));
    }

    #[test]
    fn the_largest_expression_is_allowed_and_one_byte_more_is_not() {
        allowed(&"a".repeat(EXPRESSION_BYTES_MAX));
        let wrong = refused(&"a".repeat(EXPRESSION_BYTES_MAX + 1));
        assert_eq!(wrong, "This expression has 1025 bytes; 1024 are allowed.");
    }

    #[test]
    fn a_chain_of_operators_and_a_pile_of_brackets_are_refused() {
        allowed(&format!("1{}", "+1".repeat(EXPRESSION_OPERATORS_MAX)));
        assert!(refused(&format!("1{}", "+1".repeat(101))).contains("operators"));
        assert!(refused(&format!("1{}", " in a".repeat(101))).contains("operators"));
        allowed(&format!("{}1{}", "(".repeat(16), ")".repeat(16)));
        assert!(refused(&format!("{}1{}", "(".repeat(17), ")".repeat(17))).contains("brackets"));
        assert!(
            refused(&"[)".repeat(17)).contains("brackets"),
            "they close nothing"
        );
        allowed(&"[]".repeat(40));
    }

    #[test]
    fn characters_that_look_right_are_explained() {
        assert!(refused("lead == “cut”").contains("character “ has"));
        assert!(refused("a \u{7f} b").contains("\\u{7f}"));
        assert!(refused(" \n ").contains("no expression"));
    }
}
