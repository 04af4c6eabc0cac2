"""The trial hoop of a house: its task is done when the trial of every batch for the house is accepted."""
