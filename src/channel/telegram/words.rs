//! The sentences that only this channel says.

use super::decode::Unusable;
use crate::desk::evaporators::LABEL_CHARACTERS_MAX;
use crate::desk::whereabouts::Near;

/// The commands with what the platform's menu says about them.
pub(super) const COMMANDS: [(&str, &str); 18] = [
    ("job", "Show where my job stands"),
    ("new", "Begin a job on an evaporator"),
    ("jobs", "My jobs, and those of the crew"),
    ("evaporator", "What is known of an evaporator"),
    ("labels", "Labels for evaporators, as a PDF"),
    ("training", "Practise: a TRAINING walk"),
    ("flow", "See a flow as a diagram"),
    ("report", "The report of my job, as a PDF"),
    ("photos", "The photos of my job"),
    ("hurt", "Someone is hurt, or a gas alarm"),
    ("people", "The crew: people and roles"),
    ("invite", "A code for somebody new"),
    ("quiet", "When not to remind me of anything"),
    ("way", "One step at a time, or plain steps as a list"),
    ("locks", "The lock of somebody who is away"),
    ("page", "A code to sign in on the page"),
    ("help", "What I can do"),
    ("start", "Join a crew: /start CODE"),
];

pub(super) const HELP: &str = "\
I walk you through an evaporator fan that moves no air, one step at a time.

/new begins a job. /job shows the step again. /jobs shows your jobs.
/evaporator market EV-3 finds an evaporator and shows what is known of it.
Send a location to keep where the evaporator of your job is.
/labels sends a supervisor labels to print; /labels market, those of one place.
/training is for practice: nothing of it counts. /flow shows a flow as a diagram.
/report sends the report of your job as a PDF, /photos its photos.
/hurt if someone is hurt or a gas alarm sounds.
/people shows the crew; a supervisor sets roles there. /invite gives a code for somebody new.
/page gives a code for the browser page. /quiet sets your quiet hours.
/locks is for the lock of somebody who is away.
/way do asks plain steps as a list, /way read asks one at a time.

Press the buttons, type readings like 208 V, send photos when they are asked for.
Local codes and licensed practice prevail over anything I say.";

pub(super) const JOIN: &str = "\
I walk refrigeration technicians through an evaporator fan that moves no air.
You are not in a crew yet. Ask your supervisor for a code, then send: /start CODE";

pub(super) const JOIN_OPEN: &str = "\
I walk refrigeration technicians through an evaporator fan that moves no air.
You are not in a crew yet. Send /start to join.";

pub(super) const NO_JOB: &str = "You have no job at hand. /new begins one, /jobs shows yours.";

pub(super) const UNKNOWN_BUTTON: &str =
    "That button is too old, or made for another place. /job shows where your job stands.";

pub(super) const LEFT_OUT: &str = "\
So much waited for this chat that some of my messages were left out. Nothing that you did is lost. \
/job shows where your job stands.";

pub(super) const LABELS: &str = "\
Print it at its full size. A phone’s camera opens the square code in this chat, for people of your \
crew.";

pub(super) const NO_EVAPORATORS: &str =
    "Your crew has no evaporator yet. /new adds one and begins a job on it.";

pub(super) const WHICH_EVAPORATOR: &str = "Which evaporator do you mean?";

pub(super) const NOTHING_KNOWN: &str = "Nobody of your crew worked on it yet.";

pub(super) const EARLIER_JOBS: &str = "Earlier jobs are on the browser page.";

pub(super) const NO_SUCH_CODE: &str =
    "That code is not open any more: it was used, withdrawn or is too old.";

pub(super) fn no_evaporator_with(search: &str) -> String {
    format!("No evaporator of your crew has all of this in its line: {search}. Try fewer words.")
}

/// There are more than are shown to choose from.
pub(super) fn more_evaporators_to_see(count: usize) -> String {
    format!("{count} more are not shown. Type words of it: /evaporator market EV-3")
}

/// The label of a button; with the title of the flow where there is a choice.
pub(super) fn begin_here(title: Option<&str>) -> String {
    match title {
        Some(title) => format!("Begin here: {title}"),
        None => "Begin a job here".to_owned(),
    }
}

/// The label of a button that shows a job.
pub(super) fn job_of(day: &str) -> String {
    format!("See the job of {day}")
}

/// The label of a button that withdraws a code.
pub(super) fn withdraw(roles: &str) -> String {
    format!("Withdraw the code for {roles}")
}

pub(super) fn withdrawn(code: &str) -> String {
    format!("Withdrawn, nobody joins with it any more. {code}")
}

pub(super) fn codes_without_button(count: usize) -> String {
    format!("{count} more codes can be withdrawn on the browser page.")
}

pub(super) const NOTHING_MORE: &str = "There is nothing to say about that here.";

pub(super) const PANICKED: &str = "The server has a fault and could not answer that. \
     What you sent last may not be kept: look with /job where your job stands.";

pub(super) const FLOOD: &str = "That is more than I can read at once. What you sent last was not taken in. Wait a minute, \
     then look with /job where you stand. If somebody is hurt, /hurt always works.";

pub(super) const WHICH: &str = "On which evaporator?";

pub(super) const BEGUN_BEFORE: &str = "This button began this job. /new begins another.";

pub(super) const A_TRAINING_WALK: &str = "A TRAINING walk: nothing of it counts as a record.";

pub(super) const WHAT_TO_DO: &str = "What is to be done?";

/// Follows what is to be done; the words that were typed follow.
pub(super) const EVAPORATORS_WITH: &str = "Evaporators with: ";

pub(super) const MORE_FLOWS: &str = "More can be begun on the browser page.";

pub(super) const NO_SUCH_FLOW: &str =
    "Your crew does not begin jobs with that any more. /new begins again.";

pub(super) const WHICH_FLOW: &str = "Which flow do you want to see?";

pub(super) const MORE_DIAGRAMS: &str = "The others are on the browser page.";

pub(super) const NO_SUCH_DIAGRAM: &str =
    "Your crew does not walk that flow any more. /flow shows those of today.";

pub(super) const NO_DIAGRAM: &str = "That flow cannot be drawn. Its steps are still in your job.";

pub(super) const ANOTHER: &str = "Another evaporator";

/// The reply to this is a new evaporator for a job.
pub(super) const ADD: &str = "A new evaporator.";

/// The reply to this is a new evaporator for a training walk.
pub(super) const ADD_TRAINING: &str = "A new evaporator, for a TRAINING walk.";

/// Whether a message asks for a new evaporator.
pub(super) fn is_for_an_evaporator(question: &str) -> bool {
    question.starts_with(ADD) || question.starts_with(ADD_TRAINING)
}

/// Follows either of the above where there is a choice; the title of the flow follows.
pub(super) const TO_BE_DONE: &str = "To be done: ";

/// Follows all of the above.
pub(super) const ADD_HOW: &str =
    "Reply with one line: site, tag, where it hangs. Like: Corner Shop, EV-2, freezer back wall.";

pub(super) const ADD_HINT: &str = "site, tag, where it hangs";

pub(super) const TO_WHOM: &str = "To whom do you hand the job over?";

pub(super) const TO_WHOM_HOW: &str =
    "They take it from their own chat or page. Until then it stays in your hands.";

pub(super) const ANYBODY: &str = "Anybody of the crew";

/// There are more people than buttons.
pub(super) fn more_people(count: usize) -> String {
    format!("{count} more people are in the crew. To reach them, offer it to anybody.")
}

/// The reply to this is the remark to a job that is sent back; the job's reference follows.
pub(super) const SEND_BACK: &str = "Reply to this with what is to be put right. Job";

/// Before the places of the steps that a remark is about.
pub(super) const STEPS: &str = ", steps ";

/// The places of steps, as the question for the remark names them.
pub(super) fn steps(places: &[usize]) -> String {
    let places: Vec<String> = places.iter().map(usize::to_string).collect();
    match places.is_empty() {
        true => String::new(),
        false => format!("{STEPS}{}", places.join(", ")),
    }
}

pub(super) const NO_LOCKS: &str =
    "By the record nobody else's lock hangs on the job at hand. Yours may. /jobs shows others.";

pub(super) const NO_SUCH_LOCK: &str = "That lock does not hang there any more. /locks shows them.";

pub(super) const LOCKS_HOW: &str = "\
A lock comes off by the hand of its owner. Only where the owner is away may it come off without \
them, after three conditions that you confirm one by one.";

pub(super) const LOCK_OFF_CAUTION: &str =
    "⚠️ Somebody may be inside. Look for yourself before any lock comes off.";

pub(super) const RECORD_LOCK_OFF: &str = ". Record it, then take the lock off";

/// `Locks of others at Corner Market · EV-3`.
pub(super) fn locks_at(line: &str) -> String {
    format!("Locks of others at {line}")
}

/// `Ann’s lock on: Fan circuit`.
pub(super) fn lock_of(name: &str, source: &str) -> String {
    format!("{name}’s lock on: {source}")
}

pub(super) const WAY_HOW: &str = "\
/way read: one step at a time. /way do: plain steps as a list, to do first and answer after.";

pub(super) const HAVE_SHOWN: &str = "Signed off";

pub(super) const SIGN_OFF: &str = "Sign off what somebody has shown";

pub(super) const WHO_SHOWED: &str = "Who has shown you something? Nobody signs for themselves.";

pub(super) const NOBODY_TO_SIGN_FOR: &str =
    "Nobody else is in your crew, and nobody signs for themselves. /invite gives a code.";

pub(super) const NO_SIGNING: &str =
    "Only a supervisor can sign for what somebody has shown. Ask yours to do it.";

pub(super) const NO_SUCH_COMPETENCE: &str =
    "That is not to be signed here any more. /people shows how it stands.";

pub(super) const SIGN_OFF_TAKEN_BACK: &str = "The sign-off is taken back.";

pub(super) const SIGN_OFF_HOW: &str = "\
Sign only what you saw. It counts for a year; the page offers other times.
Look at it again with the yearly inspection of your lockout procedure.";

/// `What has Ann shown you?`
pub(super) fn what_they_showed(name: &str) -> String {
    format!("What has {name} shown you?")
}

/// The button that signs for it.
pub(super) fn sign_for(label: &str) -> String {
    format!("Sign for: {label}")
}

/// The button that takes a sign-off back.
pub(super) fn take_back(label: &str) -> String {
    format!("Take back: {label}")
}

pub(super) const WHICH_STEPS: &str = "What is to be done again?";

pub(super) const WHICH_STEPS_HOW: &str =
    "Pick a part, then tick its steps. The page can take steps of several parts at once.";

pub(super) const WHOLE_JOB: &str = "My remark says it";

pub(super) const TICK_STEPS: &str = "Tick what is to be done again.";

pub(super) const THESE_AGAIN: &str = "These again, with a remark";

pub(super) const OTHER_PART: &str = "Another part";

/// `Mount the assembly, 7 steps`.
pub(super) fn part_of(title: &str, steps: usize) -> String {
    match steps {
        1 => format!("{title}, 1 step"),
        _ => format!("{title}, {steps} steps"),
    }
}

pub(super) fn parts_left_out(count: usize) -> String {
    format!("{count} earlier parts have no room here. Open the job on the page for them.")
}

pub(super) const NO_SUCH_REVIEW: &str =
    "That job does not wait for review any more. /jobs shows those that do.";

pub(super) const NO_JOBS: &str = "You have no jobs. /new begins one.";

pub(super) const YOUR_JOBS: &str = "Your jobs, those you may take, and those to review:";

pub(super) const CAPTION: &str =
    "The photo is kept. The words under it are not: type them when they are asked for.";

pub(super) const UNDER_ANOTHER_JOB: &str = "\
That stood under another job and has no effect. Read the question of this job and answer it.";

pub(super) const NO_PHOTO_WANTED: &str = "No photo is wanted at this step. Here it is again.";

pub(super) const PHOTO_LOST: &str =
    "The photo did not arrive here whole. The step waits. Send the photo again.";

pub(super) fn too_large(mebibytes: usize) -> String {
    format!("That photo is larger than {mebibytes} MB. Send a smaller one.")
}

pub(super) fn welcome(name: &str, roles: &str) -> String {
    format!(
        "Welcome, {name}. You are in the crew as {roles}.\n\
         /new begins a job. /training is for practice. /help tells the rest.\n\
         Local codes and licensed practice prevail over anything I say."
    )
}

/// How to sign in on the page with a code.
pub(super) fn page_code(code: &str, until: &str) -> String {
    format!(
        "Open the browser page of this server, add /join to its address, and type this code there: \
         {code}\n\
         It is for you alone and works once, until {until}. Leave the name empty. Under People a \
         supervisor invites others and sets roles, their own too."
    )
}

/// How quiet hours are chosen in a chat.
pub(super) const QUIET_HOW: &str = "\
Change it like this: /quiet 21:00 06:30, or /quiet none. A time zone may follow, like \
America/Chicago; /quiet crew goes back to the one of your crew.
Stopped work and emergencies come at any hour.";

pub(super) const CREW: &str = "The people of your crew:";

pub(super) const CREW_HOW: &str = "Press a name to set the person's roles.";

pub(super) const OPEN_CODES: &str =
    "Codes that nobody used yet. Withdraw one on the browser page: /page.";

pub(super) const INVITE: &str = "Invite somebody";

pub(super) const NO_INVITING: &str = "Only a supervisor can invite people. Ask yours to do it.";

pub(super) const NEWCOMER: &str = "In which role does somebody new join?";

pub(super) const TICK_ROLES: &str = "Tick every role they hold, then press the last button. \
     Tick “Licensed electrician” only for a person who holds that license where you work.";

pub(super) const MAKE_CODE: &str = "Make a one-time code";

pub(super) const GIVE_ROLES: &str = "Give these roles";

pub(super) const NO_SUCH_PERSON: &str =
    "That person is not of your crew any more. /people shows who is.";

/// There are more people than buttons.
pub(super) fn people_without_button(count: usize) -> String {
    format!("{count} of them have no button here. Set their roles on the browser page: /page.")
}

pub(super) fn their_roles(name: &str, roles: &str) -> String {
    format!("{name} is {roles}.")
}

pub(super) fn now_have_roles(name: &str, roles: &str) -> String {
    format!("{name} is now {roles}.")
}

pub(super) fn take_off(name: &str) -> String {
    format!("Take {name} off the crew")
}

pub(super) fn off_the_crew(name: &str) -> String {
    format!("{name} is off the crew. Their jobs stay theirs until somebody takes them over.")
}

/// What an invitation says, for the supervisor to send on.
pub(super) fn invited(code: &str, roles: &str, until: &str, bot: Option<&str>) -> String {
    let link = bot.map_or(String::new(), |bot| {
        format!("\nOr they open: https://t.me/{bot}?start={code}")
    });
    format!(
        "A code for one new person, who joins as {roles}. It works once, until {until}, and is not \
         shown again.\n\
         They send this to the bot: /start {code}{link}\n\
         On the browser page they add /join to its address and type the code there."
    )
}

/// Under a list that shows only its first lines.
pub(super) fn more_evaporators(left: usize) -> String {
    format!("{left} more. Find one with /new and words, like: /new harbor ev-3")
}

/// Under a list that shows only its first lines.
pub(super) const MORE_JOBS: &str = "More jobs are on the browser page.";

/// Under a list of evaporators to try a flow on.
pub(super) fn evaporators_left_out(left: usize) -> String {
    format!("{left} more have no button here. Any of them does for a trial.")
}

pub(super) const CANNOT_TRY: &str = "That flow cannot be walked beside the others any more. Have \
     it posted in your crew's group again.";

pub(super) const NO_EVAPORATOR_TO_TRY: &str = "Your crew has no evaporator yet. Add one with \
     /training, then open the link again.";

pub(super) fn added(line: &str) -> String {
    format!("Added: {line}.")
}

/// A reply whose evaporator has no site.
pub(super) fn too_many_parts() -> String {
    format!(
        "That has more than three parts. Send site, tag and where it hangs, with a comma between \
         them, each at most {LABEL_CHARACTERS_MAX} characters. /new begins again."
    )
}

/// The answer to what cannot be used.
pub(super) fn unusable(what: Unusable) -> &'static str {
    match what {
        Unusable::Sticker => {
            "I cannot use stickers or animations. Press a button or type the answer."
        }
        Unusable::Sound => "I cannot listen to that. Type the answer, please.",
        Unusable::Video => "I cannot use a video. Send a photo when one is asked for.",
        Unusable::File => "I cannot use that file. Send a photo, or a JPEG, PNG or WebP picture.",
        Unusable::Edited => {
            "An edited message changes nothing here: what you sent first counts. To change that, \
             press “Back one step” first."
        }
        Unusable::Forwarded => {
            "A forwarded message is no answer. Type it yourself, or take the photo here."
        }
        Unusable::Album => "One photo at a time, please. Nothing of the album was kept.",
        Unusable::Command => "I do not know that command. /help shows those that I know.",
        Unusable::Something => "I cannot use that. Press a button or type the answer.",
    }
}

pub(super) const REPORT: &str = "The report. It says what was recorded, not how things stand now.";

pub(super) const WHICH_PAPER: &str =
    "The report comes on Letter or A4 paper. Send /report letter or /report a4.";

pub(super) const NO_PHOTOS: &str = "This job has no photo yet.";

pub(super) const PHOTOS_ON_THE_WAY: &str =
    "Photos are on their way to you. Wait until they are here.";

pub(super) const NOT_HERE: &str = "That cannot be shown here. It is on the browser page: /page.";

/// Before several photos.
pub(super) fn photos_come(count: usize) -> String {
    format!("{count} photos, in the order in which they were taken in. Open one to see its step.")
}

/// The label of a button.
pub(super) fn show_photos(count: usize) -> String {
    match count {
        1 => "Show the photo".to_owned(),
        _ => format!("Show the {count} photos"),
    }
}

/// Above what somebody finds who is in no crew: nothing but this.
pub(super) const JOIN_BUTTON: &str = "Join a crew";

pub(super) const A_JOB: &str = "Job";

pub(super) const AN_EVAPORATOR: &str = "Evaporator";

pub(super) const A_FLOW: &str = "Flow, as a diagram";

/// Under what was found: leads to it in the private chat.
pub(super) const OPEN: &str = "Open";

pub(super) const NO_SUCH_PLACE: &str = "There is no such place. Send the location again.";

pub(super) const NO_JOB_THERE: &str =
    "I keep a location with the evaporator of your job at hand. You have none; /new begins one.";

pub(super) fn keep_place(line: &str) -> String {
    format!("Keep where {line} is?")
}

pub(super) fn how_rough(near: Near) -> String {
    format!(
        "Only roughly, within about 100 m: {near}. It is kept for good with the evaporator, and \
         your crew sees it there. Nothing is kept if you do not press."
    )
}

pub(super) const KEEP_PLACE: &str = "Keep it with the evaporator";

pub(super) fn place_kept(line: &str, near: Near) -> String {
    format!("Kept: {line} is at {near}, within about 100 m.")
}
