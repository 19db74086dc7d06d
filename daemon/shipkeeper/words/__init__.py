"""The words the whole house shares: records, units, geometry. Imports nothing of ours."""
