"""Who signs in, with what, from where and for how long; and how people come to an organisation and leave it."""
