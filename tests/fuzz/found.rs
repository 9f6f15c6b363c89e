//! What changes by chance brought to light: each input that did harm, so that it never does again.

use super::targets::{expression, update};

/// Brackets that close nothing let the parser go deeper than the limit and ended the stack, and the
/// program with it: found after some 2,000 changed expressions.
#[test]
fn no_expression_within_the_limits_ends_the_stack() {
    for (piece, times, last) in [
        ("[)", 90, ""),
        ("(]", 90, ""),
        ("{)", 90, ""),
        ("max(]", 90, ""),
        ("!", 100, "known(supply)"),
        ("- ", 100, "fans_dead"),
        ("known(supply) ? supply : ", 33, "rated"),
        ("known(supply) && ", 49, "known(supply)"),
        ("1 in [", 16, "1"),
        ("max(1, ", 16, "1"),
    ] {
        let text = piece.repeat(times) + last;
        assert!(!expression(text.as_bytes()).is_empty(), "{text}");
    }
}

/// A photo of so many pixels that their number is larger than 32 bits; the platform says so of its
/// own photos only, but nothing checks it.
#[test]
fn the_pixels_of_a_photo_that_claims_to_be_huge_are_counted() {
    for chat in [
        r#"{"id":5,"type":"private"}"#,
        r#"{"id":-5,"type":"group","title":"A"}"#,
    ] {
        let size = r#"{"file_id":"f","file_unique_id":"f","file_size":9,
            "width":4294967295,"height":4294967295}"#;
        let ours = r#"{"message_id":3,"date":1,"text":"?","chat":{"id":5,"type":"private"},
            "from":{"id":77,"is_bot":true,"first_name":"B","username":"bench_bot"}}"#;
        let text = format!(
            r#"{{"update_id":1,"message":{{"message_id":1,"date":1,"chat":{chat},
            "from":{{"id":5,"is_bot":false,"first_name":"T"}},"photo":[{size},{size}],
            "reply_to_message":{ours}}}}}"#
        );
        assert_ne!(update(text.as_bytes()), "no update", "{text}");
    }
}

/// What somebody of a crew says or presses in what calls itself a private chat of somebody else was
/// answered there, with the names of the crew: found after some 3,000 changed updates.
#[test]
fn a_private_chat_of_somebody_else_is_nobodys() {
    let said = |from: i64| {
        let text = format!(
            r#"{{"update_id":1,"message":{{"message_id":1,"date":1,"text":"/jobs",
            "chat":{{"id":5,"type":"private"}},
            "from":{{"id":{from},"is_bot":false,"first_name":"T"}}}}}}"#
        );
        update(text.as_bytes())
    };
    assert_ne!(said(5), "for nobody");
    assert_eq!(said(6), "for nobody");
    let pressed = |from: i64| {
        let text = format!(
            r#"{{"update_id":1,"callback_query":{{"id":"p","chat_instance":"c","data":"x",
            "from":{{"id":{from},"is_bot":false,"first_name":"T"}},
            "message":{{"message_id":1,"date":1,"text":"?","chat":{{"id":5,"type":"private"}},
            "from":{{"id":77,"is_bot":true,"first_name":"B"}}}}}}}}"#
        );
        update(text.as_bytes())
    };
    assert_ne!(pressed(5), "for nobody");
    assert_eq!(pressed(6), "for nobody");
}
