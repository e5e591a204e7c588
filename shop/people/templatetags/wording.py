"""How values and sayings are shown to the person who reads."""

from django import template

register = template.Library()
