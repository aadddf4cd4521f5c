"""Draws, the damage network, the policy and the lock-step simulator. Imports record and trade."""
