//! Every kind of button, for tests that must miss none.

use fanwright::channel::telegram::token::Token;

/// A new kind of button does not compile here before it is named; then it goes into the lists of
/// `outsiders`.
pub(super) fn is_in_the_list(token: Token) -> bool {
    match token {
        Token::Choose(..)
        | Token::Toggle(..)
        | Token::Ticked(..)
        | Token::Keep(_)
        | Token::Do(..)
        | Token::More(..)
        | Token::Close(..)
        | Token::Show(_)
        | Token::Begin(..)
        | Token::Add(_)
        | Token::New(_)
        | Token::Which(_)
        | Token::Diagram(_)
        | Token::HandOver(..)
        | Token::Roles(..)
        | Token::Again(..)
        | Token::Here(_)
        | Token::Shown(..)
        | Token::LockOff(..)
        | Token::Shared(..)
        | Token::Try(..)
        | Token::Locate(..)
        | Token::Evaporator(_)
        | Token::Withdraw(_)
        | Token::Photos(_) => true,
    }
}
