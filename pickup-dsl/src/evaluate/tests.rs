//! Figures of whole positions against closed forms, handbook tables and laws.

mod closed_form;
