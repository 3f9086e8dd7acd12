"""The field sheet's side of the office: packs, phones, what they hand in."""
