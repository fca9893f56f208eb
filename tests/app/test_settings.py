"""The settings file and the themes: all problems in one sentence, other lines kept."""

import pytest
from textual.color import Color

from linkcheck.app.settings import Settings, files_folder, keep_theme, load_settings
from linkcheck.app.themes import load_themes
from linkcheck.errors import DataError

THEMES = ("dark", "light", "contrast")


def keys():
    return {"walk.skip": "s", "walk.undo": "u", "jobs.new": "n", "app.quit": "q"}


def test_without_a_file_everything_is_as_it_comes(tmp_path):
    assert load_settings(tmp_path / "settings.toml", themes=THEMES, bindings=keys) == Settings()


def test_a_file_sets_what_it_names(tmp_path):
    path = tmp_path / "settings.toml"
    path.write_text('theme = "light"\nbell = true\nsystem_volts = 24\nfolder = "~/x"\n[keys]\n"walk.skip" = "x"\n')
    settings = load_settings(path, themes=THEMES, bindings=keys)
    assert (settings.theme, settings.bell, settings.system_volts) == ("light", True, 24)
    assert settings.keys == {"walk.skip": "x"}
    assert files_folder(settings).is_absolute()


def test_a_wrong_file_gets_one_sentence_with_all_its_problems(tmp_path):
    path = tmp_path / "settings.toml"
    path.write_text('theme = "drak"\nbel = true\nmouse = "yes"\nsystem_volts = 48\n[keys]\n"walk.skip" = 7\n')
    with pytest.raises(DataError) as caught:
        load_settings(path, themes=THEMES, bindings=keys)
    sentence = caught.value.sentence
    assert str(path) in sentence
    for word in ('did you mean "dark"', 'did you mean "bell"', '"mouse" takes', "12 or 24", '"walk.skip"'):
        assert word in sentence
    assert "\n" not in sentence


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ('"walk.skp" = "x"', 'did you mean "walk.skip"'),
        ('"walk.skip" = "u"', 'the same key "u"'),
        ('"walk.skip" = "q"', 'the same key "q"'),
    ],
)
def test_a_key_for_nothing_or_for_two_things_is_refused(tmp_path, line, says):
    path = tmp_path / "settings.toml"
    path.write_text(f"[keys]\n{line}\n")
    with pytest.raises(DataError, match=says):
        load_settings(path, themes=THEMES, bindings=keys)


def test_the_same_key_on_two_pages_is_fine(tmp_path):
    path = tmp_path / "settings.toml"
    path.write_text('[keys]\n"walk.skip" = "n"\n')
    assert load_settings(path, themes=THEMES, bindings=keys).keys == {"walk.skip": "n"}


@pytest.mark.parametrize("data", [b"theme = \n", b"\xff\xfe", b"theme = 'a'\ntheme = 'b'\n"])
def test_what_is_no_toml_is_said_so(tmp_path, data):
    path = tmp_path / "settings.toml"
    path.write_bytes(data)
    with pytest.raises(DataError, match="not TOML"):
        load_settings(path, themes=THEMES)


def test_keeping_a_theme_leaves_the_other_lines_alone(tmp_path):
    path = tmp_path / "new" / "settings.toml"
    keep_theme(path, "light")
    path.write_text(path.read_text() + "# mine\nbell = true\n")
    keep_theme(path, "contrast")
    assert path.read_text() == 'theme = "contrast"\n# mine\nbell = true\n'


def test_a_theme_of_the_users_own_joins_ours(tmp_path):
    ours = load_themes(tmp_path)
    assert set(ours) == set(THEMES)
    source = (tmp_path / "dusk.toml", 'primary = "#ffffff"\n')
    source[0].write_text(source[1])
    with pytest.raises(DataError, match='"background" is missing'):
        load_themes(tmp_path)


def _luminance(colour):
    """Relative luminance, WCAG 2.1, definition of "relative luminance"."""
    parts = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in colour.normalized]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def contrast(one, other):
    """Contrast ratio, WCAG 2.1, definition of "contrast ratio"."""
    light, dark = sorted([_luminance(one), _luminance(other)], reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize(("theme", "least"), [("dark", 4.5), ("light", 4.5), ("contrast", 7.0)])
@pytest.mark.parametrize("name", ["foreground", "accent", "success", "error", "warning"])
def test_colours_of_text_stand_out(tmp_path, theme, least, name):
    """4.5:1 is WCAG 2.1's level AA for text (1.4.3), 7:1 its level AAA (1.4.6)."""
    table = load_themes(tmp_path)[theme]
    for ground in ("background", "surface", "panel"):
        ratio = contrast(Color.parse(getattr(table, name)), Color.parse(getattr(table, ground)))
        assert ratio >= least, f"{name} on {ground}: {ratio:.2f}"
