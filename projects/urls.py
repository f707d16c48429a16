"""The whole site on one page."""

from django.contrib import admin
from django.urls import path

from finishing.views import accounts, calculators, coatings, media, seasons, settings, sources, systems, weather, years
from projects.views import day_sheet, designs, follow, log, paint, parts, photos, pieces, places, projects

urlpatterns = [
    path("", day_sheet.day_sheet, name="day-sheet"),
    path("admin/", admin.site.urls),
    # who comes in
    path("sign-in/", accounts.sign_in, name="sign-in"),
    path("sign-out/", accounts.sign_out, name="sign-out"),
    path("start/<slug:token>/", accounts.first_start, name="first-start"),
    path("join/<slug:token>/", accounts.join, name="join"),
    path("no-workshop/", accounts.no_workshop, name="no-workshop"),
    path("choose-workshop/", accounts.choose_workshop, name="choose-workshop"),
    path("another-workshop/", accounts.another_workshop, name="another-workshop"),
    # settings
    path("settings/", settings.settings, name="settings"),
    path("settings/password/", accounts.password, name="password"),
    path("settings/members/", settings.members, name="members"),
    path("settings/members/<uuid:pk>/role/", settings.change_role, name="member-role"),
    path("settings/members/<uuid:pk>/remove/", settings.remove_member, name="member-remove"),
    path("settings/invite/", settings.invite, name="invite"),
    path("settings/invite/<slug:token>/withdraw/", settings.withdraw, name="invite-withdraw"),
    path("settings/places/", settings.places, name="places"),
    path("settings/places/new/", settings.place_new, name="place-new"),
    path("settings/places/<uuid:pk>/", settings.place_edit, name="place-edit"),
    path("settings/places/<uuid:pk>/remove/", settings.place_remove, name="place-remove"),
    path("settings/days-off/", settings.days_off, name="days-off"),
    path("settings/days-off/new/", settings.day_off_new, name="day-off-new"),
    path("settings/days-off/<uuid:pk>/remove/", settings.day_off_remove, name="day-off-remove"),
    # weather
    path("weather/", weather.outlook, name="weather"),
    path("weather/fetch/", weather.fetch, name="forecast-fetch"),
    path("weather/logger/", weather.import_logger, name="logger-import"),
    path("weather/readings/", weather.readings, name="readings"),
    path("weather/readings/new/", weather.new_reading, name="reading-new"),
    path("weather/readings/<uuid:pk>/remove/", weather.remove_reading, name="reading-remove"),
    path("weather/years/", years.years, name="years"),
    path("weather/years/fetch/", years.fetch, name="year-fetch"),
    path("weather/years/new/", years.add_typical, name="typical-year-new"),
    path("weather/years/<uuid:pk>/remove/", years.remove, name="year-remove"),
    path("weather/which-month/", seasons.which_month, name="which-month"),
    path("places/<uuid:pk>/", places.detail, name="place"),
    # projects
    path("projects/", projects.projects, name="projects"),
    path("projects/new/", projects.new, name="project-new"),
    path("projects/<uuid:pk>/", projects.detail, name="project"),
    path("projects/<uuid:pk>/edit/", projects.edit, name="project-edit"),
    path("projects/<uuid:pk>/machines/new/", projects.add_machines, name="machine-new"),
    path("projects/<uuid:pk>/follower/new/", projects.renew_address, name="follower-new"),
    path("projects/<uuid:pk>/follower/close/", projects.close_address, name="follower-close"),
    path("projects/<uuid:pk>/paint/", paint.paint_list, name="paint-list"),
    path("projects/<uuid:pk>/paint.csv", paint.paint_csv, name="paint-csv"),
    path("projects/<uuid:pk>/pieces/new/", pieces.new, name="pieces-new"),
    # designs and parts
    path("designs/", designs.designs, name="designs"),
    path("designs/new/", designs.new, name="design-new"),
    path("designs/<uuid:pk>/", designs.detail, name="design"),
    path("designs/<uuid:pk>/edit/", designs.edit, name="design-edit"),
    path("designs/<uuid:pk>/parts/new/", parts.new, name="part-new"),
    path("parts/<uuid:pk>/", parts.detail, name="part"),
    path("parts/<uuid:pk>/edit/", parts.edit, name="part-edit"),
    path("parts/<uuid:pk>/remove/", parts.remove, name="part-remove"),
    path("parts/<uuid:pk>/revisions/new/", parts.new_revision, name="revision-new"),
    # pieces
    path("pieces/<uuid:pk>/", pieces.detail, name="piece"),
    path("pieces/<uuid:pk>/edit/", pieces.edit, name="piece-edit"),
    path("pieces/<uuid:pk>/set-aside/", pieces.set_aside, name="piece-set-aside"),
    # the log
    path("log/", log.new, name="log"),
    path("log/verdict/", log.verdict, name="log-verdict"),
    path("steps/<uuid:pk>/void/", log.void, name="step-void"),
    path("photos/<uuid:pk>/", photos.photo, name="photo"),
    path("photos/<uuid:pk>/thumbnail/", photos.thumbnail, name="photo-thumbnail"),
    # a customer's public address
    path("follow/<slug:token>/", follow.follow, name="follow"),
    path("follow/<slug:token>/photos/<uuid:pk>/", photos.followed_photo, name="follow-photo"),
    path("follow/<slug:token>/photos/<uuid:pk>/thumbnail/", photos.followed_thumbnail, name="follow-thumbnail"),
    # coatings and systems
    path("coatings/", coatings.coatings, name="coatings"),
    path("coatings/new/", coatings.new, name="coating-new"),
    path("coatings/<uuid:pk>/", coatings.detail, name="coating"),
    path("coatings/<uuid:pk>/edit/", coatings.edit, name="coating-edit"),
    path("coatings/<uuid:pk>/copy/", coatings.copy, name="coating-copy"),
    path("systems/", systems.systems, name="systems"),
    path("systems/new/", systems.new, name="system-new"),
    path("systems/<uuid:pk>/", systems.detail, name="system"),
    path("systems/<uuid:pk>/edit/", systems.edit, name="system-edit"),
    path("systems/<uuid:pk>/copy/", systems.copy, name="system-copy"),
    # blasting media
    path("media/", media.media, name="media"),
    path("media/new/", media.new, name="medium-new"),
    path("media/<uuid:pk>/", media.detail, name="medium"),
    path("media/<uuid:pk>/edit/", media.edit, name="medium-edit"),
    path("media/<uuid:pk>/copy/", media.copy, name="medium-copy"),
    # calculators: one question each, for everybody
    path("calculators/", calculators.calculators, name="calculators"),
    path("calculators/<slug:name>/", calculators.calculator, name="calculator"),
    # open to everybody
    path("sources/", sources.sources, name="sources"),
]
