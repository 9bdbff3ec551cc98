"""The picture of the form: the whole song on one page, its sections to scale in time."""

from bridge.out.form.picture import form_scene

__all__ = ["form_scene"]
