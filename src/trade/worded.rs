//! Types whose values are words of a closed list: a verdict, a motor type.

/// Declares an enum together with the word of each value, as flows and records write it.
macro_rules! worded {
    (
        $(#[$about:meta])*
        pub enum $Name:ident { $( $(#[$note:meta])* $Value:ident = $word:literal, )+ }
    ) => {
        $(#[$about])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $Name { $( $(#[$note])* $Value, )+ }

        impl $Name {
            /// The words of all values, in order.
            pub const WORDS: &'static [&'static str] = &[$( $word, )+];

            /// The word of this value.
            pub const fn word(self) -> &'static str {
                match self { $( Self::$Value => $word, )+ }
            }

            /// The value whose word is `word`.
            pub fn named(word: &str) -> Option<Self> {
                match word { $( $word => Some(Self::$Value), )+ _ => None }
            }
        }

        impl $crate::trade::worded::Worded for $Name {
            const LIST: &'static [&'static str] = Self::WORDS;
            fn of_word(word: &str) -> Option<Self> { Self::named(word) }
        }
    };
}

pub(crate) use worded;

/// A type declared with [`worded!`].
pub(crate) trait Worded: Sized {
    /// The words of all values, in order.
    const LIST: &'static [&'static str];
    /// The value whose word is `word`.
    fn of_word(word: &str) -> Option<Self>;
}

#[cfg(test)]
mod tests {
    use crate::trade::motor::MotorType;

    #[test]
    fn words_and_values_belong_together() {
        for word in MotorType::WORDS {
            assert_eq!(MotorType::named(word).map(MotorType::word), Some(*word));
        }
        assert_eq!(MotorType::named("steam"), None);
    }
}
