//! What a capture showed: in full, one line among many, one figure explained.

pub(super) mod batch;
pub(super) mod brief;
pub(super) mod causes;
pub(super) mod explain;
pub(super) mod figures;
pub(super) mod findings;
pub(super) mod overview;
pub(super) mod travel;
pub(super) mod zones;
