//! The names under which the loader's problems are told.

use super::super::finding::Grade;
use super::Rule;

pub(super) const UNREADABLE: Rule = Rule {
    name: "unreadable_file",
    grade: Grade::Error,
    page: include_str!("../pages/unreadable_file.md"),
    run: |_, _| Vec::new(),
};

pub(super) const LANGUAGE: Rule = Rule {
    name: "not_in_the_language",
    grade: Grade::Error,
    page: include_str!("../pages/not_in_the_language.md"),
    run: |_, _| Vec::new(),
};

pub(super) const BINDING: Rule = Rule {
    name: "flows_do_not_fit",
    grade: Grade::Error,
    page: include_str!("../pages/flows_do_not_fit.md"),
    run: |_, _| Vec::new(),
};

pub(super) const PICTURE: Rule = Rule {
    name: "missing_picture",
    grade: Grade::Error,
    page: include_str!("../pages/missing_picture.md"),
    run: |_, _| Vec::new(),
};
