"""Deliveries held against open standards: schemas, registers, public validators and clients."""
