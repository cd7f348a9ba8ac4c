//! The names an expression sees.

use std::sync::Arc;

use minijinja::Value;
use minijinja::value::Object;

/// Is the names an expression sees: the truth and its companions, and the names bound round it.
#[derive(Debug, Clone)]
pub(super) struct Scope(Value);

#[derive(Debug)]
struct Bound {
    name: Arc<str>,
    value: Value,
    outer: Value,
}

impl Object for Bound {
    fn get_value(self: &Arc<Self>, key: &Value) -> Option<Value> {
        if key.as_str() == Some(&self.name) {
            Some(self.value.clone())
        } else {
            self.outer
                .get_item(key)
                .ok()
                .filter(|value| !value.is_undefined())
        }
    }
}

impl Scope {
    /// Begins with a map of names.
    pub(super) fn new(names: Value) -> Self {
        Self(names)
    }

    /// Adds one name, hiding an equal one outside.
    pub(super) fn bind(&self, name: &str, value: Value) -> Self {
        Self(Value::from_object(Bound {
            name: name.into(),
            value,
            outer: self.0.clone(),
        }))
    }

    pub(super) fn value(&self) -> &Value {
        &self.0
    }
}
