//! An answer as JSON: its struct under its contract name, which is documented, versioned and tested.

use serde_json::{Map, Value};

use crate::answer::sheet::Answer;
use crate::domain::problem::{Problem, Result};

/// `{"contract": "...", ...fields}`, two spaces of indentation, one newline at the end.
pub fn render<A: Answer>(answer: &A) -> Result<Vec<u8>> {
    let mut object = Map::new();
    object.insert("contract".to_string(), Value::from(A::CONTRACT));
    match serde_json::to_value(answer) {
        Ok(Value::Object(fields)) => object.extend(fields),
        Ok(other) => {
            object.insert("answer".to_string(), other);
        }
        Err(e) => {
            return Err(Problem::data(format!(
                "could not write the answer as JSON: {e}"
            )));
        }
    }
    let mut bytes = serde_json::to_vec_pretty(&Value::Object(object))
        .map_err(|e| Problem::data(format!("could not write the answer as JSON: {e}")))?;
    bytes.push(b'\n');
    Ok(bytes)
}
