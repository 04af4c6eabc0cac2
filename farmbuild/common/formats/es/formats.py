"""As in English: numbers and days of pages are written by ``measure``, and these stand in attributes and scripts."""

from django.conf.locale.en import formats as english

DATE_INPUT_FORMATS = english.DATE_INPUT_FORMATS
DATETIME_INPUT_FORMATS = english.DATETIME_INPUT_FORMATS
TIME_INPUT_FORMATS = english.TIME_INPUT_FORMATS
DECIMAL_SEPARATOR = english.DECIMAL_SEPARATOR
THOUSAND_SEPARATOR = english.THOUSAND_SEPARATOR
NUMBER_GROUPING = 0
