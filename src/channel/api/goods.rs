//! The crew's kit and speed book: to get, and to replace.

use axum::extract::{Extension, Json, State};
use axum::http::HeaderMap;
use axum::http::header::{ETAG, IF_MATCH};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Api;
use super::ask::Asked;
use super::door::names;
use super::once::Key;
use super::problem::{Kind, Problem};
use crate::desk::goods::{Replaced, Which};
use crate::desk::tokens::Caller;
use crate::record::scope::Scope;

/// A kit or a speed book.
#[derive(Serialize, ToSchema)]
pub(super) struct Goods {
    /// The hash of its text, by which jobs pin it; none while there is none.
    revision: Option<String>,
    /// The text of the file, YAML as `fanwright schema kit` and `fanwright schema speed-book`
    /// describe it; none while there is none.
    text: Option<String>,
}

/// Another text.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct GoodsNew {
    /// The text of the file, YAML.
    text: String,
}

/// The tag of a revision; while there is none, that of nothing.
fn tag(revision: Option<&str>) -> String {
    format!("\"{}\"", revision.unwrap_or("none"))
}

async fn get(api: &Api, caller: &Caller, which: Which) -> Result<Response, Problem> {
    let actor = caller.for_this(Scope::ReadGoods)?;
    let found = api.desk().goods_revision(actor, which).await?;
    Ok(answer(found.map(|(hash, text)| (hash.to_string(), text))))
}

fn answer(found: Option<(String, String)>) -> Response {
    let (revision, text) = found.unzip();
    let tag = tag(revision.as_deref());
    ([(ETAG, tag)], Json(Goods { revision, text })).into_response()
}

async fn replace(
    (api, caller): (&Api, &Caller),
    (key, headers): (Key, &HeaderMap),
    which: Which,
    new: GoodsNew,
) -> Result<Response, Problem> {
    let actor = caller.for_this(Scope::ReplaceGoods)?;
    let wanted = headers.get(IF_MATCH);
    let wanted = wanted.ok_or_else(|| Problem::of(Kind::NeedsIfMatch))?;
    let found = api.desk().goods_revision(actor, which).await?;
    let seen = found.map(|(hash, _)| hash);
    let seen_text = seen.map(|hash| hash.to_string());
    let wants = |revision: Option<&str>| names(wanted, tag(revision).as_bytes());
    // A repeated request names what it replaced then: the desk knows it by its key.
    let over = match wants(seen_text.as_deref()) {
        true => seen,
        false => other_than(seen),
    };
    let replaced = api
        .desk()
        .replace_goods(key.0, actor, (which, over), &new.text)
        .await?;
    match replaced {
        Replaced::HasChanged => Err(Problem::of(Kind::HasChanged)),
        Replaced::Kept => {
            let found = api.desk().goods_revision(actor, which).await?;
            Ok(answer(found.map(|(hash, text)| (hash.to_string(), text))))
        }
    }
}

/// A revision that does not stand there.
fn other_than(seen: Option<crate::record::chain::Hash>) -> Option<crate::record::chain::Hash> {
    use crate::record::chain::Hash;
    match seen {
        Some(_) => None,
        None => Some(Hash([0; 32])),
    }
}

/// The crew's kit.
#[utoipa::path(
    get,
    path = "/api/v1/kit",
    tag = "Kit and speed book",
    responses((status = 200, body = Goods, description = "The kit")),
    extensions(("x-scope" = json!("read-goods")))
)]
pub(super) async fn kit(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
) -> Result<Response, Problem> {
    get(&api, &caller, Which::Kit).await
}

/// The crew's speed book.
#[utoipa::path(
    get,
    path = "/api/v1/speed-book",
    tag = "Kit and speed book",
    responses((status = 200, body = Goods, description = "The speed book")),
    extensions(("x-scope" = json!("read-goods")))
)]
pub(super) async fn speed_book(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
) -> Result<Response, Problem> {
    get(&api, &caller, Which::SpeedBook).await
}

/// Replaces the kit. Jobs that run keep the one that they began with.
#[utoipa::path(
    put,
    path = "/api/v1/kit",
    tag = "Kit and speed book",
    request_body = GoodsNew,
    params(("If-Match" = String, Header, description = "The ETag of what is replaced.")),
    responses((status = 200, body = Goods, description = "The kit as it is now")),
    extensions(("x-scope" = json!("replace-goods")))
)]
pub(super) async fn replace_kit(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Extension(key): Extension<Key>,
    headers: HeaderMap,
    Asked(new): Asked<GoodsNew>,
) -> Result<Response, Problem> {
    replace((&api, &caller), (key, &headers), Which::Kit, new).await
}

/// Replaces the speed book. Jobs that run keep the one that they began with.
#[utoipa::path(
    put,
    path = "/api/v1/speed-book",
    tag = "Kit and speed book",
    request_body = GoodsNew,
    params(("If-Match" = String, Header, description = "The ETag of what is replaced.")),
    responses((status = 200, body = Goods, description = "The speed book as it is now")),
    extensions(("x-scope" = json!("replace-goods")))
)]
pub(super) async fn replace_speed_book(
    State(api): State<Api>,
    Extension(caller): Extension<Caller>,
    Extension(key): Extension<Key>,
    headers: HeaderMap,
    Asked(new): Asked<GoodsNew>,
) -> Result<Response, Problem> {
    replace((&api, &caller), (key, &headers), Which::SpeedBook, new).await
}
