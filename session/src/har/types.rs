//! The members of an archive.

use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Is an archive.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Archive {
    pub(super) log: Log,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Log {
    pub(super) version: String,
    pub(super) creator: Creator,
    pub(super) entries: Vec<Entry>,
    /// The lines of the session that belong to no exchange.
    #[serde(rename = "_coldbed", default, skip_serializing_if = "Vec::is_empty")]
    pub(super) own: Vec<Value>,
}

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Creator {
    pub(super) name: String,
    #[serde(default)]
    pub(super) version: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Entry {
    pub(super) started_date_time: String,
    /// ms.
    #[serde(default)]
    pub(super) time: f64,
    pub(super) request: Request,
    pub(super) response: Response,
    #[serde(default)]
    pub(super) cache: Value,
    #[serde(default)]
    pub(super) timings: Timings,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) connection: Option<String>,
    /// The lines of the session that are about this exchange.
    #[serde(rename = "_coldbed", default, skip_serializing_if = "Vec::is_empty")]
    pub(super) own: Vec<Value>,
}

/// Times in ms; -1 is what does not apply.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(super) struct Timings {
    pub(super) blocked: f64,
    pub(super) dns: f64,
    pub(super) connect: f64,
    pub(super) send: f64,
    pub(super) wait: f64,
    pub(super) receive: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Request {
    pub(super) method: String,
    pub(super) url: String,
    #[serde(default)]
    pub(super) http_version: String,
    #[serde(default)]
    pub(super) cookies: Vec<Value>,
    #[serde(default)]
    pub(super) headers: Vec<Pair>,
    #[serde(default)]
    pub(super) query_string: Vec<Pair>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) post_data: Option<PostData>,
    #[serde(default)]
    pub(super) headers_size: i64,
    #[serde(default)]
    pub(super) body_size: i64,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct PostData {
    #[serde(default)]
    pub(super) mime_type: String,
    #[serde(default)]
    pub(super) text: String,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Response {
    pub(super) status: u16,
    #[serde(default)]
    pub(super) status_text: String,
    #[serde(default)]
    pub(super) http_version: String,
    #[serde(default)]
    pub(super) cookies: Vec<Value>,
    #[serde(default)]
    pub(super) headers: Vec<Pair>,
    #[serde(default)]
    pub(super) content: Stuff,
    #[serde(rename = "redirectURL", default)]
    pub(super) redirect_url: String,
    #[serde(default)]
    pub(super) headers_size: i64,
    #[serde(default)]
    pub(super) body_size: i64,
}

/// Is a message's content, without codings.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "camelCase", default)]
pub(super) struct Stuff {
    pub(super) size: i64,
    pub(super) mime_type: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) text: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) encoding: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Pair {
    pub(super) name: String,
    pub(super) value: String,
}
