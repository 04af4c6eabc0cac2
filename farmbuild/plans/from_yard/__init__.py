"""Which houses of a plan can be built from what lies in the yard by who is there, and what each further one takes."""
