//! Papers: plan.json, PDF, HTML, models, pictures, calendar file. It computes no figure; it sets out what it is given.
