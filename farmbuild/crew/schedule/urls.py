"""Addresses of the week, of schedules and of tasks."""

from django.urls import path

from farmbuild.crew.schedule import task_views, views

urlpatterns = [
    path("crew/", views.board, name="board"),
    path("crew/week/<str:day>/", views.week, name="week-sheet"),
    path("crew/schedules/", views.ScheduleList.as_view(), name="schedules"),
    path("crew/schedules/new/", views.create, name="schedule-new"),
    path("crew/schedules/<int:number>/", views.show, name="schedule"),
    path("crew/schedules/<int:number>/progress/", views.progress, name="schedule-progress"),
    path("crew/schedules/<int:number>/run/", views.run, name="schedule-run"),
    path("crew/schedules/<int:number>/retry/", views.retry, name="schedule-retry"),
    path("crew/schedules/<int:number>/publish/", views.publish, name="schedule-publish"),
    path("crew/tasks/<int:pk>/", task_views.task, name="task"),
    path("crew/tasks/<int:pk>/fix/", task_views.fix, name="task-fix"),
    path("crew/tasks/<int:pk>/slip/", task_views.slip, name="task-slip"),
]
