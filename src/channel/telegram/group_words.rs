//! The sentences that this channel says only in groups, or about them.

use super::group_decode::EDITION;
use crate::desk::goods::Which;
use crate::desk::shared_flows::edition_in_short;

/// The commands in groups, with what the platform's menu says about them.
pub(super) const COMMANDS: [(&str, &str); 4] = [
    ("hurt", "Someone is hurt, or a gas alarm"),
    ("flow", "Our flows; as an answer: check a file"),
    ("who", "Which jobs walk which edition"),
    ("help", "What I do in a group"),
];

/// Those that only a supervisor needs; mostly it is they who run the group.
pub(super) const ADMIN_COMMANDS: [(&str, &str); 2] = [
    ("bind", "Make this the group of my crew"),
    ("unbind", "End that it is"),
];

/// What the bot says when it comes into a group that is no crew's.
pub(super) const GROUP_WELCOME: &str = "\
I walk refrigeration technicians through an evaporator fan that moves no air.
This group is no crew's yet. A supervisor of the crew sends /bind here to make it so.
I read only commands, answers to my own messages, and what names me.";

pub(super) const GROUP_HELP: &str = "\
This is the group of your crew.
/hurt if someone is hurt or a gas alarm sounds.
Post a flow file, a kit or a speed book and answer it with /flow: I check it and show what it is.
/flow alone shows the flows of your crew. /who says which jobs walk which edition.
/here opens your job to the crew in this group: whoever may answer a step answers it here.
/unbind ends that this is your crew's group; a supervisor sends it.
Local codes and licensed practice prevail over anything I say.";

pub(super) const GROUP_BOUND: &str = "\
This is the group of your crew from now on. Whoever is in the group reads what I post here.
Only people of the crew can do anything with me; this group does not make you one of them.";

pub(super) const GROUP_BOUND_ALREADY: &str = "This is the group of your crew already.";

pub(super) const GROUP_UNBOUND: &str =
    "This is not the group of a crew any more. A supervisor sends /bind to make it so again.";

pub(super) const GROUP_NOT_BOUND: &str = "This group is no crew's.";

/// Somebody writes in the name of the group itself.
pub(super) const NAMELESS: &str = "I cannot see who that is: an administrator who stays \
     anonymous writes in the name of the group. Turn that off for yourself, then send it again.";

/// Nothing in the group waits for an answer.
pub(super) const GROUP_NO_ANSWER: &str =
    "Nothing here waits for that answer. /help says what I do in a group.";

pub(super) const MUTE: &str = "I am not allowed to write there any more. Let me send messages, in \
     the permissions of the group.";

pub(super) const NO_FILES: &str = "I am not allowed to send photos and files there. Allow me \
     that, in the permissions of the group; until then pictures are missing.";

/// Somebody whom the bot does not know wants something of it in a group that is no crew's.
pub(super) fn group_unknown(bot: Option<&str>) -> String {
    format!("Join your crew first, {}.", privately(bot))
}

/// A command that only works in a private chat.
pub(super) fn only_privately(bot: Option<&str>) -> String {
    format!("That works {}.", privately(bot))
}

fn privately(bot: Option<&str>) -> String {
    match bot {
        Some(bot) => format!("in a private chat with me: https://t.me/{bot}"),
        None => "in a private chat with me".to_owned(),
    }
}

/// Somebody who is not of the group's crew wants something that only they may.
pub(super) fn not_of_the_crew(bot: Option<&str>) -> String {
    format!(
        "Only people of the crew whose group this is can do that. {}",
        group_unknown(bot)
    )
}

pub(super) const NOT_OURS: &str = "That is no flow, kit or speed book of mine. A flow file begins \
     with a line like: flow: make-safe";

pub(super) const FILE_LOST: &str = "The file did not arrive here whole. Post it again.";

pub(super) fn file_too_large(kibibytes: usize) -> String {
    format!("That file is too large. A flow, a kit or a speed book may have {kibibytes} KiB.")
}

pub(super) const ONE_ERROR: &str = "This flow cannot be used yet: the checker found 1 error.";

pub(super) fn errors(count: usize) -> String {
    match count {
        1 => ONE_ERROR.to_owned(),
        _ => format!("This flow cannot be used yet: the checker found {count} errors."),
    }
}

/// There is no room for all that was found.
pub(super) fn more(count: usize) -> String {
    format!("{count} more.")
}

pub(super) const MEND: &str = "Mend the file and post it again.";

pub(super) fn unusable_goods(wrong: &str) -> String {
    format!("This file cannot be used yet. {wrong}")
}

/// `7 steps · posted by Toni`.
pub(super) fn steps_by(steps: usize, by: &str) -> String {
    match steps {
        1 => format!("1 step · posted by {by}"),
        _ => format!("{steps} steps · posted by {by}"),
    }
}

/// The line that names an edition.
pub(super) fn edition(edition: &str) -> String {
    format!("{EDITION}{}", edition_in_short(edition))
}

pub(super) fn taken_over(edition: &str) -> String {
    format!(
        "Taken over from another crew's edition {}.",
        edition_in_short(edition)
    )
}

pub(super) const GOODS_TAKEN_OVER: &str = "Taken over from another crew.";

pub(super) const IS_PUBLISHED: &str = "Your crew walks exactly this.";

pub(super) const IS_NEW: &str = "Your crew has no flow of this name yet.";

/// How much differs from what the crew walks.
pub(super) fn differs(count: usize, safety: usize) -> String {
    let what = match count {
        1 => "1 thing differs from what your crew walks".to_owned(),
        _ => format!("{count} things differ from what your crew walks"),
    };
    match (safety, count) {
        (0, _) => format!("{what}."),
        (1, 1) => {
            format!("{what}, and it can alter how somebody is protected (❗): read it twice.")
        }
        (1, _) => {
            format!("{what}. 1 of them can alter how somebody is protected (❗): read it twice.")
        }
        _ => format!(
            "{what}. {safety} of them can alter how somebody is protected (❗): read them twice."
        ),
    }
}

pub(super) const NOTHING_DIFFERS: &str = "Nothing differs from what your crew walks.";

pub(super) fn advice(count: usize) -> String {
    match count {
        1 => "The checker advises 1 thing:".to_owned(),
        _ => format!("The checker advises {count} things:"),
    }
}

pub(super) const UNTIL_PUBLISHED: &str = "Nobody walks it before a supervisor publishes it.";

pub(super) const TRY_IT: &str = "Try it";

pub(super) const PUBLISH: &str = "Publish to the crew";

pub(super) const CHANGES: &str = "What changed";

pub(super) const WHO_USES: &str = "Who uses it";

/// The reply to this is the note to flows that are published; title and edition follow.
pub(super) const NOTE: &str = "Reply to this with what is changed and why. A supervisor's reply \
     publishes it:";

pub(super) fn published(title: &str) -> String {
    format!(
        "Published: {title}. New jobs of your crew walk it from now on. Jobs under way stay on the \
         edition that they began with."
    )
}

pub(super) fn what(which: Which) -> &'static str {
    match which {
        Which::Kit => "kit",
        Which::SpeedBook => "speed book",
    }
}

/// `12 assemblies · posted by Toni`.
pub(super) fn rows_by(which: Which, rows: usize, by: &str) -> String {
    let rows = match (which, rows) {
        (Which::Kit, 1) => "1 assembly".to_owned(),
        (Which::Kit, _) => format!("{rows} assemblies"),
        (Which::SpeedBook, 1) => "1 model".to_owned(),
        (Which::SpeedBook, _) => format!("{rows} models"),
    };
    format!("{rows} · posted by {by}")
}

pub(super) fn take(which: Which) -> String {
    format!("Take it as the crew's {}", what(which))
}

pub(super) fn taken(which: Which) -> String {
    let what = what(which);
    format!(
        "This is the crew's {what} from now on. Jobs under way keep the {what} that they began \
         with."
    )
}

pub(super) fn is_in_use(which: Which) -> String {
    format!("This is your crew's {}.", what(which))
}

pub(super) const NOBODY_WALKS: &str = "No open job of your crew walks it.";

pub(super) const NO_OPEN_JOBS: &str = "Your crew has no open jobs.";

pub(super) const NO_FLOW_CALLED: &str = "No flow of your crew is called that. /flow shows them.";

/// `Edition 3f2a…, as of today`.
pub(super) fn edition_walked(edition_of: &str, is_of_today: bool) -> String {
    let age = if is_of_today {
        "as new jobs walk it"
    } else {
        "an earlier one"
    };
    format!("{}, {age}", edition(edition_of))
}

/// The bot may not make topics in a group that has them.
pub(super) const NO_TOPIC_RIGHT: &str = "I may not make topics here, so the job stays in this one. \
     To give each job its own, make me an administrator who may manage topics.";
